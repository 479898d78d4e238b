"""Rakelight: what linear luminaires do to walls and ceilings, in pictures and numbers."""

__version__ = "0.1.0"
