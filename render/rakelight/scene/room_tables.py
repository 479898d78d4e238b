"""The schema's tables of the room itself and of its finishes."""

from typing import Annotated

from pydantic import Field

from rakelight.scene.stated import Length, Lux, Reflectance, RoomSize, Share, Size, Takes
from rakelight.scene.table import Table, Wall


class CeilingTable(Table):
    """A ceiling that is not level; `room.height` is its height at the wall `from`."""

    rises_from: Wall = Field(
        default="main",
        alias="from",
        description="The wall at which the ceiling has the room's height, and to which a ridge "
        "is parallel.",
    )
    far_m: RoomSize | None = Field(
        default=None,
        alias="far",
        description="Its height at the opposite wall. Not stated: the room's height.",
    )
    ridge_m: RoomSize | None = Field(
        default=None,
        alias="ridge",
        description="Height of a ridge between the two. Not stated: none, the ceiling is one "
        "plane.",
    )
    ridge_at_m: Size | None = Field(
        default=None,
        alias="ridge_at",
        description="Distance of the ridge from the wall `from`. Not stated: half way.",
    )


class RoomTable(Table):
    """The room: a box, seen facing its main wall, or one with a pitched ceiling."""

    width_m: RoomSize = Field(default=4.8, alias="width", description="Along the main wall.")
    depth_m: RoomSize = Field(
        default=3.6, alias="depth", description="From the main wall to the opposite one."
    )
    height_m: RoomSize = Field(
        default=2.7, alias="height", description="Floor to finished ceiling."
    )
    ceiling: CeilingTable | None = Field(
        default=None, description="A pitched ceiling. Not stated: level."
    )


class SurfaceTable(Table):
    """One surface of the room; facing the main wall, `left` and `right` are the side walls."""

    reflectance: Reflectance | None = Field(
        default=None,
        description="Diffuse reflectance. Not stated: 0.5 for walls, 0.2 for the floor, 0.8 for "
        "the ceiling; a wall with a relief takes the texture's own.",
    )
    finish: (
        Annotated[str, Takes("shipped name, or path to the TOML file of a finish or relief")] | None
    ) = Field(
        default=None,
        description="Reflectance by place, such as `oak-boards`; it repeats from the surface's "
        "lower left corner. `reflectance` is then its mean. Not stated: even.",
    )
    other_light_lx: Lux | None = Field(
        default=None,
        alias="other_light",
        description="Diffuse illuminance from daylight or lighting that is not in this scene. "
        "Not stated: as `[other_light]` says.",
    )
    gloss: Share | None = Field(
        default=None,
        description="0 for a dull surface, 0.3 for satin or sealed, 0.6 for polished, 1 for a "
        "mirror. Not stated: 0; a wall with a relief takes the texture's own.",
    )
    lean_m: Length = Field(
        default=0.0,
        alias="lean",
        description="Of a wall out of true: how far its top stands farther into the room than "
        "its foot. The mean plane stays where it is.",
    )
    bow_m: Length = Field(
        default=0.0,
        alias="bow",
        description="Of a wall that bulges: how far its middle stands farther into the room than "
        "its ends, left and right.",
    )


class SurfacesTable(Table):
    """The six surfaces of the room."""

    main: SurfaceTable = Field(default=SurfaceTable(), description="The main wall.")
    opposite: SurfaceTable = Field(default=SurfaceTable(), description="The wall opposite it.")
    left: SurfaceTable = Field(default=SurfaceTable(), description="The wall at the left.")
    right: SurfaceTable = Field(default=SurfaceTable(), description="The wall at the right.")
    floor: SurfaceTable = Field(default=SurfaceTable(), description="The floor.")
    ceiling: SurfaceTable = Field(default=SurfaceTable(), description="The ceiling.")
