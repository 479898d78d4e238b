"""The scene that `new` writes."""

from pathlib import Path

from rakelight.errors import InputError
from rakelight.tell.files import write_whole

STARTER = """\
# A grazed wall. Every key, with its default, is in REFERENCE.md beside the shipped scenes.
title = "First graze"

# A bare number is in this unit; text may carry its own: "6 in", "9 ft 6 in", "150 mm".
[units]
length = "m"            # or "mm", "ft", "in"; results are printed in it too
illuminance = "lx"      # or "fc"

[room]
width = 4.8             # along the main wall
depth = 3.6             # from the main wall back
height = 2.7            # floor to finished ceiling

# The wall's surface, as real geometry. Use your own height image by giving its path with
# width, height and depth.
[[relief]]
on = "main"
texture = "split-ledgestone"

# Luminaires end to end under the ceiling, along the wall they light.
[[run]]
tag = "G1"
photometry = "graze-narrow"     # or the path of your .ies or .ldt file
setback = "150 mm"              # mean plane of the wall to the centre of the opening;
                                # "against" is the least at which luminaire and stone clear
drop = "60 mm"                  # ceiling down to the centre of the opening
# beam_aim = "base"             # point the file's peak at the foot of the wall, or
# tilt = "5 deg"                # turn the housing toward the wall
dim = 1.0                       # share of the light output
cct = "3000 K"

# Follow the light from surface to surface; false shows the runs' own light alone.
[quality]
bounce = true

# Runs also lie on coves and floors, stand upright, or hang as pendants; rooms also have doors,
# slots, fascias, columns and pitched ceilings. The shipped scenes show one each.

# Light from elsewhere that is not modelled here; it is named in every caption.
# [other_light]
# all = "8 lx"
"""


def write_starter(path: Path) -> None:
    """Write the starter scene.

    Parameters
    ----------
    path : Path
        Where to; must not exist, its folder must.

    Raises
    ------
    InputError
        If it exists or cannot be written.
    """
    if path.exists() or path.is_symlink():
        raise InputError(f"{path}: exists already and is left as it is. Choose another name.")
    if path.suffix != ".toml":
        raise InputError(f"{path}: a scene's name ends in .toml.")
    if not path.parent.is_dir():
        raise InputError(f"{path}: there is no folder {path.parent}. Make it first.")
    write_whole(path, STARTER.encode())
