"""Rakelight's room `study`; see DEVELOPERS.md."""
