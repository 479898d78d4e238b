"""Rakelight's room `light`; see DEVELOPERS.md."""
