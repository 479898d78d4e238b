"""The reference library of colour science, loaded without what it changes for everyone else."""

import numpy as np


def colour_library():
    """The module; how numpy prints, which it sets anew, stays: names in SVG files hang on it."""
    with np.printoptions():
        import colour
    return colour
