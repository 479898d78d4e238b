"""Rakelight's room `samples`; see DEVELOPERS.md."""
