"""Rakelight's room `plates`; see DEVELOPERS.md."""
