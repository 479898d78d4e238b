"""The schema's table of a run: luminaires end to end, or a row of single ones."""

from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from rakelight.scene.stated import (
    AboveZero,
    Aim,
    Count,
    Direction,
    Distance,
    Kelvin,
    Length,
    Point,
    Reflectance,
    Setback,
    Share,
    Size,
    Takes,
    Truth,
    Turn,
    TurnRange,
)
from rakelight.scene.table import SurfaceName, Table, Wall


class HousingTable(Table):
    """The body around a run's opening."""

    width_m: Size = Field(alias="width", description="Across the run.")
    height_m: Size = Field(
        alias="height", description="From the opening back to the far side of the body."
    )
    opening_m: Length = Field(
        default=0.0,
        alias="opening",
        description="From the middle of the body to the middle of the opening, toward the lit "
        "surface.",
    )
    recess_m: Distance = Field(
        default=0.0,
        alias="recess",
        description="How far the body goes on past the opening; its sides then cut light off.",
    )


class SlotTable(Table):
    """A slot in the ceiling that the run is up in."""

    width_m: Size = Field(alias="width", description="Clear width, across the run.")
    height_m: Size = Field(alias="height", description="From the ceiling up to the slot's lid.")
    from_wall_m: Distance | None = Field(
        default=None,
        alias="from_wall",
        description="From the wall to the slot's near side; 0 for a slot along the wall itself. "
        "Not stated: the run is in the slot's middle.",
    )
    start_m: Distance | None = Field(
        default=None,
        alias="start",
        description="From the wall's left end. Not stated: as the wall, if the run comes within "
        "100 mm of its end, else 20 mm before the run.",
    )
    end_m: Size | None = Field(default=None, alias="end", description="Likewise.")
    reflectance: Reflectance | None = Field(
        default=None, description="Of its sides and lid. Not stated: the ceiling's."
    )


class AdjustTable(Table):
    """How the hardware lets the housing be set; 0 is how it comes, facing off its base."""

    range_rad: TurnRange = Field(
        alias="range", description="Least and largest setting, toward the lit surface positive."
    )
    click_rad: Turn | None = Field(
        default=None, alias="click", description="Step between settings. Not stated: any."
    )

    @model_validator(mode="after")
    def _makes_sense(self) -> "AdjustTable":
        low, high = self.range_rad
        if low > high:
            raise ValueError('"range" must go from the least to the largest setting')
        if self.click_rad is not None and not self.click_rad > 0:
            raise ValueError('"click" must be above 0')
        return self


class RunTable(Table):
    """Luminaires end to end, or single ones in a row, along a wall.

    Facing the wall, `start` counts from its left end; for a vertical run it counts from the
    floor, and `from_left` says where it stands.
    """

    tag: str | None = Field(
        default=None, description="Its name in tables. Not stated: L1, L2 and so on, by order."
    )
    lights: SurfaceName = Field(
        default="main",
        description="The surface that it lights. Not stated: `main`, or the ceiling on a cove "
        "or a panel.",
    )
    along: Literal["ceiling", "floor", "main", "opposite", "left", "right"] = Field(
        default="ceiling",
        description="What it is fixed to or hangs from. With tilt 0 not stated, it faces away "
        "from that; from the ceiling it faces down, or up if it lights the ceiling.",
    )
    beside: Wall | None = Field(
        default=None,
        description="The wall that it is parallel to, which setback and start count from. Not "
        "stated: the wall that it lights, else the one it is fixed to, else `main`.",
    )
    on: str | None = Field(
        default=None,
        description="Tag of the cove or panel that it lies on; its light goes up unless tilted. "
        "On a cove, setback not stated is the middle of the ledge; on a panel, it counts from the "
        "edge that faces `beside`.",
    )
    photometry: Annotated[str, Takes("shipped name, or path to a photometric file")] = Field(
        description="Intensity distribution of one luminaire."
    )
    setback_m: Setback | None = Field(
        default=None,
        alias="setback",
        description="From the wall's mean plane to the centre of the opening; `against` is the "
        "least at which relief and housing clear.",
    )
    drop_m: Length = Field(
        default=0.06,
        alias="drop",
        description="From the finished ceiling down to the centre of the opening; negative when "
        "the opening is up in a slot.",
    )
    height_m: Size | None = Field(
        default=None, alias="height", description="Or the opening's height over the floor."
    )
    vertical: Truth = Field(default=False, description="Whether it stands upright.")
    from_left_m: Distance | None = Field(
        default=None,
        alias="from_left",
        description="For a vertical run: from the wall's left end, facing it, to the opening.",
    )
    throws: Literal["left", "right"] | None = Field(
        default=None,
        description="For a vertical run: the way along the wall that it faces. Not stated: to "
        "the farther end.",
    )
    from_point_m: Point | None = Field(
        default=None,
        alias="from",
        description="Instead of setback, drop, start and end: the opening's centre where the run "
        "starts, [x, y, z] as cameras are placed; for runs at an angle.",
    )
    to_point_m: Point | None = Field(default=None, alias="to", description="And where it may end.")
    tilt_rad: Direction | None = Field(
        default=None,
        alias="tilt",
        description="Turn of the housing about the run, from facing straight down toward the "
        "lit surface (a vertical run: from facing along the wall); 0 is as the file was "
        "measured. Not stated, and no beam aim either: it faces away from what it is fixed to.",
    )
    beam_aim_rad: Aim | None = Field(
        default=None,
        alias="beam_aim",
        description="Where the file's peak points, from straight down toward the wall; `base` is "
        "the foot of the wall. State this or `tilt`. It may be called `aim`.",
    )
    adjust: AdjustTable | None = Field(
        default=None, description="Not stated: any tilt can be set, once and for all."
    )
    fixed: Truth = Field(default=False, description="Whether the hardware has no tilt at all.")
    flush: Truth = Field(
        default=False,
        description="Whether the housing's lowest edge must lie in the ceiling's plane, or in "
        "that of the lower edge of the fascia or cove it lies on. Sets the drop if none is stated.",
    )
    slot: SlotTable | None = Field(
        default=None, description="Not stated: the ceiling is whole above the run."
    )
    start_m: Distance = Field(
        default=0.0,
        alias="start",
        description="From the wall's left end to the first lit end, facing the wall.",
    )
    end_m: Size | None = Field(
        default=None,
        alias="end",
        description="From the wall's left end to where the run may end. Not stated: the wall's "
        "far end.",
    )
    count: Count | None = Field(
        default=None,
        description="Number of luminaires. Not stated: one lit length to `end`, or, with "
        "`length` or `gap`, as many as fit.",
    )
    length_m: Size | None = Field(
        default=None, alias="length", description="Lit length of one. Not stated: the file's."
    )
    gap_m: Distance = Field(
        default=0.0, alias="gap", description="Dark length between luminous openings."
    )
    spacing_m: Size | None = Field(
        default=None,
        alias="spacing",
        description="Or, for single luminaires, from the middle of one to the middle of the next.",
    )
    centred: Truth = Field(
        default=False,
        description="Whether what fits lies in the middle between start and end.",
    )
    dim: Share = Field(default=1.0, description="Share of the light output.")
    maintenance: Share = Field(
        default=1.0, description="Maintenance factor; 1 gives initial values."
    )
    cct_k: Kelvin = Field(default=3000.0, alias="cct", description="Colour temperature.")
    lit_length_m: Size | None = Field(
        default=None,
        alias="lit_length",
        description="Length along the run of the luminaire that the file describes, where the "
        "file does not say or says it wrong.",
    )
    lit_width_m: Size | None = Field(
        default=None,
        alias="lit_width",
        description="Width across the run of its luminous opening, likewise.",
    )
    lm_per_m: AboveZero | None = Field(
        default=None,
        description="Lumens for each metre of lit length; scales the file's output and watts. "
        "Not stated: the file's.",
    )
    turn_rad: Turn | None = Field(
        default=None,
        alias="turn",
        description="Turn in plan, counter-clockwise seen from above. Not stated: the way round "
        "that throws toward the wall.",
    )
    housing: HousingTable | None = Field(
        default=None,
        description="Not stated: 5 mm wider than the opening on each side and 40 mm high.",
    )
    zone: str = Field(default="", description="Control zone, for the run table.")
    circuit: str = Field(default="", description="Circuit, for the run table.")
    note: str = Field(default="", description="A remark, for the run table.")

    @model_validator(mode="before")
    @classmethod
    def _aim_for_short(cls, data: Any) -> Any:
        if isinstance(data, dict) and "aim" in data and "beam_aim" not in data:
            data = dict(data)
            data["beam_aim"] = data.pop("aim")
        return data

    @model_validator(mode="after")
    def _one_way_to_aim(self) -> "RunTable":
        if self.tilt_rad is not None and self.beam_aim_rad is not None:
            raise ValueError('"tilt" and "beam_aim" are both stated. State one of them')
        if self.end_m is not None and self.end_m <= self.start_m:
            raise ValueError('"end" must lie beyond "start"')
        if self.tag is not None and (not self.tag.strip() or self.tag.strip().isdecimal()):
            raise ValueError('"tag" must be a name such as "G1", not a bare number or empty')
        if self.fixed and self.adjust is not None:
            raise ValueError('"fixed" and "adjust" are both stated. State one of them')
        return self

    @model_validator(mode="after")
    def _one_way_to_place(self) -> "RunTable":
        stated = self.model_fields_set
        if (self.from_point_m is None) != (self.to_point_m is None):
            raise ValueError('"from" and "to" belong together; state both')
        if self.from_point_m is not None:
            also = {"setback_m", "drop_m", "height_m", "start_m", "end_m", "slot", "on", "vertical"}
            if also & stated:
                raise ValueError(
                    '"from" and "to" say where the run is; leave out "setback", "drop", "height", '
                    '"start", "end", "slot", "on" and "vertical"'
                )
        elif self.setback_m is None and self.on is None:
            raise ValueError("missing setback")
        if self.height_m is not None and "drop_m" in stated:
            raise ValueError('"height" and "drop" are both stated. State one of them')
        if self.spacing_m is not None and self.gap_m > 0:
            raise ValueError('"spacing" and "gap" are both stated. State one of them')
        if self.vertical and self.from_left_m is None:
            raise ValueError("missing from_left")
        if self.vertical and ({"drop_m", "height_m"} & stated or self.slot or self.on):
            raise ValueError(
                'a vertical run goes from "start" to "end" over the floor; leave out "drop", '
                '"height", "slot" and "on"'
            )
        if self.vertical and self.lights in ("floor", "ceiling"):
            raise ValueError(f'a vertical run lights a wall; "lights" is "{self.lights}"')
        if not self.vertical and (self.from_left_m is not None or self.throws is not None):
            raise ValueError('"from_left" and "throws" are for runs with "vertical" = true')
        return self
