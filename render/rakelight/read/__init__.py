"""Rakelight's room `read`; see DEVELOPERS.md."""
