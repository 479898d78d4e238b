"""Rakelight's room `picture`; see DEVELOPERS.md."""
