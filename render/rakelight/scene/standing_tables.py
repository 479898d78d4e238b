"""The schema's tables of what stands or hangs in a room, and of what is cut into its walls."""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from rakelight.scene.stated import (
    Axis,
    Distance,
    Reflectance,
    Size,
    Spot,
    Takes,
    Truth,
    Turn,
    WallNames,
)
from rakelight.scene.table import Table, Wall


class FasciaTable(Table):
    """A board parallel to a wall that hides luminaires, or cuts their light off."""

    tag: str = Field(default="", description="Its name. Not stated: F1, F2 and so on, by order.")
    along: WallNames = Field(
        default=("main",),
        description="The wall that it runs parallel to; a list of neighbours goes round corners.",
    )
    from_wall_m: Size = Field(
        alias="from_wall", description="From the wall's mean plane to the board's near side."
    )
    thickness_m: Size = Field(default=0.012, alias="thickness", description="Of the board.")
    height_m: Size = Field(alias="height", description="From its lower edge to its upper one.")
    below_ceiling_m: Distance = Field(
        default=0.0, alias="below_ceiling", description="From the ceiling to its upper edge."
    )
    profile: Literal["straight", "knife"] = Field(
        default="straight",
        description="`knife` tapers to 1 mm at the lower edge, on the wall's side.",
    )
    start_m: Distance = Field(
        default=0.0, alias="start", description="From the wall's left end, facing the wall."
    )
    end_m: Size | None = Field(
        default=None, alias="end", description="Likewise. Not stated: the wall's far end."
    )
    reflectance: Reflectance | None = Field(default=None, description="Not stated: 0.8.")

    @model_validator(mode="after")
    def _in_order(self) -> "FasciaTable":
        _in_order(self.start_m, self.end_m)
        return self


class SoffitTable(Table):
    """A box under the ceiling against a wall."""

    tag: str = Field(default="", description="Its name. Not stated: S1, S2 and so on, by order.")
    along: WallNames = Field(
        default=("main",), description="The wall that it lies against; a list goes round corners."
    )
    depth_m: Size = Field(alias="depth", description="From the wall out into the room.")
    height_m: Size = Field(alias="height", description="From the ceiling down.")
    start_m: Distance = Field(
        default=0.0, alias="start", description="From the wall's left end, facing the wall."
    )
    end_m: Size | None = Field(
        default=None, alias="end", description="Likewise. Not stated: the wall's far end."
    )
    reflectance: Reflectance | None = Field(default=None, description="Not stated: 0.8.")

    @model_validator(mode="after")
    def _in_order(self) -> "SoffitTable":
        _in_order(self.start_m, self.end_m)
        return self


class DriverTable(Table):
    """The body of the drivers, which stands on the ledge in front of the optic."""

    width_m: Size = Field(alias="width", description="Across the cove.")
    height_m: Size = Field(alias="height", description="Over the ledge.")
    from_wall_m: Distance = Field(
        alias="from_wall", description="From the wall's mean plane to its near side."
    )
    reflectance: Reflectance | None = Field(default=None, description="Not stated: 0.3.")


class CoveTable(Table):
    """A ledge on a wall, with a lip that hides the luminaires behind it."""

    tag: str = Field(default="", description="Its name. Not stated: C1, C2 and so on, by order.")
    along: WallNames = Field(
        default=("main",),
        description="The wall that carries it; a list of neighbours goes round corners.",
    )
    ledge_m: Size = Field(
        alias="ledge", description="Depth of the ledge, from the wall to the lip's inner side."
    )
    lip_m: Distance | None = Field(
        default=None, alias="lip", description="Height of the lip over the ledge."
    )
    aperture_m: Size | None = Field(
        default=None,
        alias="aperture",
        description="Or the clear width from the lip's upper edge to the ceiling.",
    )
    below_ceiling_m: Size | None = Field(
        default=None,
        alias="below_ceiling",
        description="From the ceiling down to the ledge's upper side.",
    )
    setback_m: Size | None = Field(
        default=None,
        alias="setback",
        description="The same, in the word of the trade: for a cove, setback is the distance "
        "below the ceiling; for a run it is the distance from a wall.",
    )
    thickness_m: Size = Field(default=0.018, alias="thickness", description="Of the ledge.")
    lip_thickness_m: Size = Field(default=0.012, alias="lip_thickness", description="Of the lip.")
    start_m: Distance = Field(
        default=0.0, alias="start", description="From the wall's left end, facing the wall."
    )
    end_m: Size | None = Field(
        default=None, alias="end", description="Likewise. Not stated: the wall's far end."
    )
    reflectance: Reflectance | None = Field(default=None, description="Not stated: 0.8.")
    driver: DriverTable | None = Field(
        default=None, description="Drivers on the ledge. Not stated: none in sight of the optic."
    )

    @model_validator(mode="after")
    def _one_way_each(self) -> "CoveTable":
        if (self.lip_m is None) == (self.aperture_m is None):
            raise ValueError('state either "lip", its height, or "aperture", the clear width over')
        if (self.below_ceiling_m is None) == (self.setback_m is None):
            raise ValueError(
                'state either "below_ceiling" or "setback": both mean the distance from the '
                "ceiling down to the ledge"
            )
        _in_order(self.start_m, self.end_m)
        return self

    @property
    def down_m(self) -> float:
        """From the ceiling down to the ledge's upper side. [m]"""
        return self.setback_m or self.below_ceiling_m or 0.0


class PanelTable(Table):
    """A floating ceiling: a slab that hangs below the ceiling."""

    tag: str = Field(default="", description="Its name. Not stated: P1, P2 and so on, by order.")
    from_left_m: Distance = Field(
        alias="from_left", description="From the left wall to its near edge."
    )
    from_main_m: Distance = Field(
        alias="from_main", description="From the main wall to its near edge."
    )
    width_m: Size = Field(alias="width", description="Parallel to the main wall.")
    depth_m: Size = Field(alias="depth", description="Away from the main wall.")
    below_ceiling_m: Size = Field(
        alias="below_ceiling", description="From the ceiling down to its upper side."
    )
    thickness_m: Size = Field(default=0.025, alias="thickness", description="Of the slab.")
    reflectance: Reflectance | None = Field(default=None, description="Not stated: 0.8.")


class ColumnTable(Table):
    """An upright box, up to the ceiling unless a height is stated."""

    tag: str = Field(default="", description="Its name. Not stated: K1, K2 and so on, by order.")
    at_m: Spot = Field(alias="at", description="Its middle on the floor, as cameras are placed.")
    width_m: Size = Field(alias="width", description="Parallel to the main wall.")
    depth_m: Size = Field(alias="depth", description="Away from the main wall.")
    height_m: Size | None = Field(
        default=None, alias="height", description="Not stated: up to the ceiling."
    )
    turn_rad: Turn = Field(
        default=0.0, alias="turn", description="Counter-clockwise seen from above."
    )
    reflectance: Reflectance | None = Field(default=None, description="Not stated: 0.5.")


class BenchTable(Table):
    """A box on the floor, or at a stated height: a bench, counter, cupboard or shelf."""

    tag: str = Field(default="", description="Its name. Not stated: B1, B2 and so on, by order.")
    at_m: Spot = Field(alias="at", description="Its middle on the floor, as cameras are placed.")
    width_m: Size = Field(alias="width", description="Parallel to the main wall.")
    depth_m: Size = Field(alias="depth", description="Away from the main wall.")
    height_m: Size = Field(alias="height", description="From its lower to its upper side.")
    above_floor_m: Distance = Field(
        default=0.0, alias="above_floor", description="Of its lower side."
    )
    turn_rad: Turn = Field(
        default=0.0, alias="turn", description="Counter-clockwise seen from above."
    )
    reflectance: Reflectance | None = Field(default=None, description="Not stated: 0.3.")


class MeshTable(Table):
    """A body from a file: OBJ, STL, PLY or glTF."""

    tag: str = Field(default="", description="Its name. Not stated: M1, M2 and so on, by order.")
    file: Annotated[str, Takes("path of an OBJ, STL, PLY or glTF file")] = Field(
        description="The file."
    )
    unit: Literal["m", "cm", "mm", "ft", "in"] | None = Field(
        default=None, description="Of the file's numbers. Not stated: the file's own, or metres."
    )
    up: Axis | None = Field(
        default=None, description="The file's axis that points up. Not stated: as its kind has it."
    )
    at_m: Spot = Field(alias="at", description="Where the middle of its footprint stands.")
    above_floor_m: Distance = Field(
        default=0.0, alias="above_floor", description="Of its lowest point."
    )
    turn_rad: Turn = Field(
        default=0.0, alias="turn", description="Counter-clockwise seen from above."
    )
    thin_sheet: Truth = Field(
        default=False,
        description="Whether it may be open: a sheet without thickness, lit and shading on both "
        "sides. Not stated, a mesh with open edges is refused.",
    )
    reflectance: Reflectance | None = Field(default=None, description="Not stated: 0.3.")


class OpeningTable(Table):
    """A door, a window or a niche: a rectangle cut out of a wall."""

    tag: str = Field(default="", description="Its name. Not stated: O1, O2 and so on, by order.")
    on: Wall = Field(default="main", description="The wall.")
    kind: Literal["door", "window", "niche"] = Field(description="What it is.")
    from_left_m: Distance = Field(
        alias="from_left", description="From the wall's left end to its left side, facing it."
    )
    from_foot_m: Distance = Field(
        default=0.0, alias="from_foot", description="From the floor to its lower side."
    )
    width_m: Size = Field(alias="width", description="Clear width.")
    height_m: Size = Field(alias="height", description="Clear height.")
    depth_m: Distance | None = Field(
        default=None,
        alias="depth",
        description="From the wall's mean plane back to the leaf, pane or back. Not stated: "
        "50 mm, 100 mm for a window; a niche must state it.",
    )
    reflectance: Reflectance | None = Field(
        default=None,
        description="Of the leaf, pane or back. Not stated: 0.4 for a door, 0.1 for a window by "
        "night, the wall's for a niche.",
    )
    reveal: Reflectance | None = Field(
        default=None, description="Of its sides. Not stated: the wall's."
    )
    glazed: Truth | None = Field(
        default=None,
        description="Whether it mirrors. Not stated: windows do, doors and niches do not.",
    )

    @model_validator(mode="after")
    def _niche_has_depth(self) -> "OpeningTable":
        if self.kind == "niche" and not self.depth_m:
            raise ValueError('a niche needs a "depth" above 0')
        return self


class EyeTable(Table):
    """An eye that should not see the light source, nor its reflection."""

    name: str = Field(default="", description="Its name. Not stated: E1, E2 and so on, by order.")
    at_m: Spot = Field(alias="at", description="Where it is on the plan, as cameras are placed.")
    height_m: Size = Field(
        default=1.6,
        alias="height",
        description="Over the floor: 1.2 m seated, 1.6 m or 1.8 m standing.",
    )


def _in_order(start_m: float, end_m: float | None) -> None:
    if end_m is not None and end_m <= start_m:
        raise ValueError('"end" must lie beyond "start"')
