"""Rakelight's room `tell`; see DEVELOPERS.md."""
