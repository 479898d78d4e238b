"""The records that the rooms hand on: frozen, plain, in SI units and radians."""
