"""Rakelight's room `build`; see DEVELOPERS.md."""
