"""Rakelight's room `kernels`; see DEVELOPERS.md."""
