"""Compiled loops over samples and pixels: plain arrays in and out, numpy and numba only."""
