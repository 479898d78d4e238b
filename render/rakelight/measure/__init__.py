"""Rakelight's room `measure`; see DEVELOPERS.md."""
