"""The scene's schema: one class for each TOML table; the reference page is written from it.

A field that ends in `_m`, `_rad` or `_lx` is in SI; its key in TOML is the alias, without the
unit. `None` means 'not stated': what then holds is said in the description.
"""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from rakelight.scene.stated import (
    AboveZero,
    Aim,
    AutoOrKelvin,
    AutoOrNumber,
    Backing,
    Count,
    Direction,
    Distance,
    ImageSize,
    Kelvin,
    Length,
    Lux,
    Pair,
    Pixels,
    Point,
    Reflectance,
    RoomSize,
    Samples,
    Setback,
    Share,
    Size,
    Takes,
    Truth,
    Turn,
    UprightOrMm,
)

Wall = Literal["main", "opposite", "left", "right"]
SurfaceName = Literal["main", "opposite", "left", "right", "floor", "ceiling"]
WALLS: tuple[Wall, ...] = ("main", "opposite", "left", "right")
SURFACES: tuple[SurfaceName, ...] = (*WALLS, "floor", "ceiling")


class Table(BaseModel):
    """A TOML table: frozen, and a key it does not know is a fault."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class UnitsTable(Table):
    """Units of bare numbers in this scene, and of everything printed from it."""

    length: Literal["m", "mm", "ft", "in"] = Field(
        default="m", description="Unit of a length written as a bare number."
    )
    illuminance: Literal["lx", "fc"] = Field(
        default="lx", description="Unit of an illuminance written as a bare number."
    )


class RoomTable(Table):
    """The room: a box, seen facing its main wall."""

    width_m: RoomSize = Field(default=4.8, alias="width", description="Along the main wall.")
    depth_m: RoomSize = Field(
        default=3.6, alias="depth", description="From the main wall to the opposite one."
    )
    height_m: RoomSize = Field(
        default=2.7, alias="height", description="Floor to finished ceiling."
    )


class SurfaceTable(Table):
    """One surface of the room; facing the main wall, `left` and `right` are the side walls."""

    reflectance: Reflectance | None = Field(
        default=None,
        description="Diffuse reflectance. Not stated: 0.5 for walls, 0.2 for the floor, 0.8 for "
        "the ceiling; a wall with a relief takes the texture's own.",
    )
    other_light_lx: Lux | None = Field(
        default=None,
        alias="other_light",
        description="Diffuse illuminance from daylight or lighting that is not in this scene. "
        "Not stated: as `[other_light]` says.",
    )


class SurfacesTable(Table):
    """The six surfaces of the room."""

    main: SurfaceTable = Field(default=SurfaceTable(), description="The main wall.")
    opposite: SurfaceTable = Field(default=SurfaceTable(), description="The wall opposite it.")
    left: SurfaceTable = Field(default=SurfaceTable(), description="The wall at the left.")
    right: SurfaceTable = Field(default=SurfaceTable(), description="The wall at the right.")
    floor: SurfaceTable = Field(default=SurfaceTable(), description="The floor.")
    ceiling: SurfaceTable = Field(default=SurfaceTable(), description="The ceiling.")


class OtherLightTable(Table):
    """Diffuse light that is not modelled; off unless stated, and named in every caption."""

    all_lx: Lux = Field(default=0.0, alias="all", description="On every surface.")
    main_lx: Lux | None = Field(default=None, alias="main", description="On the main wall.")
    opposite_lx: Lux | None = Field(default=None, alias="opposite", description="Opposite it.")
    left_lx: Lux | None = Field(default=None, alias="left", description="On the left wall.")
    right_lx: Lux | None = Field(default=None, alias="right", description="On the right wall.")
    floor_lx: Lux | None = Field(default=None, alias="floor", description="On the floor.")
    ceiling_lx: Lux | None = Field(default=None, alias="ceiling", description="On the ceiling.")


class ReliefTable(Table):
    """The surface texture of a wall, as real geometry."""

    on: Wall = Field(default="main", description="The wall that has it; one relief a wall.")
    texture: Annotated[str, Takes("shipped name, or path to a height image or its TOML file")] = (
        Field(description="Which texture.")
    )
    width_m: ImageSize | None = Field(
        default=None,
        alias="width",
        description="Real width that the height image shows. Not stated: the texture's own.",
    )
    height_m: ImageSize | None = Field(
        default=None,
        alias="height",
        description="Real height that the height image shows. Not stated: likewise.",
    )
    depth_m: Distance | None = Field(
        default=None,
        alias="depth",
        description="From the image's black to its white. Not stated: likewise.",
    )
    repeat: Literal["tile", "mirror", "stretch"] | None = Field(
        default=None,
        description="How the image goes on where the wall is larger; `stretch` fits it to the "
        "wall. Not stated: likewise.",
    )
    backing: Backing | None = Field(
        default=None,
        description="The plane that the relief is fixed to: how far behind the deepest point, or "
        "the image's `black` or `white`. Not stated: the texture's own.",
    )
    offset_m: Pair = Field(
        default=(0.0, 0.0),
        alias="offset",
        description="Where the image's lower left corner lies on the wall.",
    )
    reflectance: Reflectance | None = Field(default=None, description="Mean. Not stated: its own.")


class HousingTable(Table):
    """The body around a run's opening."""

    width_m: Size = Field(alias="width", description="Across the run.")
    height_m: Size = Field(
        alias="height", description="From the opening back to the far side of the body."
    )


class RunTable(Table):
    """Luminaires end to end along a wall, under the ceiling."""

    tag: str | None = Field(
        default=None, description="Its name in tables. Not stated: L1, L2 and so on, by order."
    )
    lights: Wall = Field(default="main", description="The wall that it lights and runs along.")
    photometry: Annotated[str, Takes("shipped name, or path to a photometric file")] = Field(
        description="Intensity distribution of one luminaire."
    )
    setback_m: Setback = Field(
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
    tilt_rad: Direction | None = Field(
        default=None,
        alias="tilt",
        description="Turn of the housing about the run, toward the wall; 0 is as the file was "
        "measured. Not stated, and no beam aim either: 0.",
    )
    beam_aim_rad: Aim | None = Field(
        default=None,
        alias="beam_aim",
        description="Where the file's peak points, from straight down toward the wall; `base` is "
        "the foot of the wall. State this or `tilt`.",
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

    @model_validator(mode="after")
    def _one_way_to_aim(self) -> "RunTable":
        if self.tilt_rad is not None and self.beam_aim_rad is not None:
            raise ValueError('"tilt" and "beam_aim" are both stated. State one of them')
        if self.end_m is not None and self.end_m <= self.start_m:
            raise ValueError('"end" must lie beyond "start"')
        if self.tag is not None and (not self.tag.strip() or self.tag.strip().isdecimal()):
            raise ValueError('"tag" must be a name such as "G1", not a bare number or empty')
        return self


class CameraTable(Table):
    """A view. `front`, `seat` and `along` need no more than their name."""

    name: str = Field(description="`front`, `seat`, `along`, or a name of your own.")
    eye_m: Point | None = Field(
        default=None,
        alias="eye",
        description="Where the eye is: x to the right and z up from the room's lower left "
        "corner, y from the opposite wall toward the main wall.",
    )
    eye_height_m: Distance | None = Field(
        default=None, alias="eye_height", description="Or its height over the floor,"
    )
    distance_m: Size | None = Field(
        default=None, alias="distance", description="its distance from the main wall,"
    )
    from_left_m: Length | None = Field(
        default=None, alias="from_left", description="and its place from the left wall."
    )
    look_at_m: Point | None = Field(
        default=None, alias="look_at", description="The point in the picture's middle."
    )
    lens_mm: AboveZero | None = Field(
        default=None, alias="lens", description="Focal length for a frame 36 mm wide, in mm."
    )
    shift_mm: UprightOrMm = Field(
        default="upright",
        alias="shift",
        description="Vertical shift of the frame in mm; `upright` keeps walls upright.",
    )
    width_px: Pixels | None = Field(
        default=None, alias="width", description="Pixels. Not stated: as `[picture]` says."
    )
    height_px: Pixels | None = Field(
        default=None, alias="height", description="Pixels. Not stated: as `[picture]` says."
    )

    @model_validator(mode="after")
    def _one_way_to_place(self) -> "CameraTable":
        if self.eye_m is not None and any(
            v is not None for v in (self.eye_height_m, self.distance_m, self.from_left_m)
        ):
            raise ValueError(
                '"eye" and "eye_height", "distance" or "from_left" are both stated. State one way'
            )
        return self


class PictureTable(Table):
    """How pictures are exposed and sized."""

    width_px: Pixels = Field(default=1920, alias="width", description="Pixels.")
    height_px: Pixels = Field(default=1080, alias="height", description="Pixels.")
    ev100: AutoOrNumber = Field(default="auto", description="Exposure value at ISO 100.")
    white_k: AutoOrKelvin = Field(
        default="auto",
        alias="white",
        description="White point; `auto` takes the colour of the light itself as white.",
    )
    figure: Truth = Field(default=True, description="A 1.7 m standing figure for scale.")
    supersample: Samples = Field(default=2, description="Samples along each side of a pixel.")


class QualityTable(Table):
    """Time against accuracy; the defaults meet the stated accuracy."""

    mesh_step_m: Size = Field(
        default=0.0025, alias="mesh_step", description="Largest step between a relief's vertices."
    )
    plane_step_m: Size = Field(
        default=0.02, alias="plane_step", description="Largest step on surfaces without relief."
    )
    azimuths: Count = Field(default=48, description="Horizon azimuths over the half circle.")
    steps: Count = Field(default=64, description="Steps of the sum along a run.")


class MeasureTable(Table):
    """What the numbers cover."""

    top_m: Distance = Field(
        default=0.3, alias="top", description="Left out under the ceiling in max:min."
    )
    foot_m: Distance = Field(
        default=0.3, alias="foot", description="Left out over the floor in max:min."
    )
    grid_m: Size | None = Field(
        default=None,
        alias="grid",
        description="Spacing of the meter grid. Not stated: by EN 12464-1.",
    )
    work_plane_m: Size | None = Field(
        default=None,
        alias="work_plane",
        description="Height of a horizontal plane to measure. Not stated: none.",
    )


class SceneTables(Table):
    """A whole scene."""

    title: str = Field(default="", description="Title for captions. Not stated: the file's name.")
    extends: (
        Annotated[str, Takes("shipped name, or path of a scene, relative to this file")] | None
    ) = Field(
        default=None,
        description="Scene to start from: this file's tables are laid over its tables. A run, "
        "relief or camera is laid over the one with its `tag`, `on` or `name`; a list with any "
        "entry that matches none replaces the whole list.",
    )
    units: UnitsTable = Field(default=UnitsTable(), description="Units of bare numbers.")
    room: RoomTable = Field(default=RoomTable(), description="The room's sizes.")
    surface: SurfacesTable = Field(default=SurfacesTable(), description="Finishes.")
    other_light: OtherLightTable = Field(
        default=OtherLightTable(), description="Light that is not modelled."
    )
    relief: tuple[ReliefTable, ...] = Field(default=(), description="Textures of walls.")
    run: tuple[RunTable, ...] = Field(default=(), description="Runs of luminaires.")
    camera: tuple[CameraTable, ...] = Field(default=(), description="Views.")
    picture: PictureTable = Field(default=PictureTable(), description="Exposure and size.")
    quality: QualityTable = Field(default=QualityTable(), description="Time against accuracy.")
    measure: MeasureTable = Field(default=MeasureTable(), description="What numbers cover.")

    @model_validator(mode="after")
    def _names_are_unique(self) -> "SceneTables":
        stated: dict[str, list[str]] = {
            "tag": [run.tag for run in self.run if run.tag],
            "on": [relief.on for relief in self.relief],
            "name": [camera.name for camera in self.camera],
        }
        for key, names in stated.items():
            twice = sorted({name for name in names if names.count(name) > 1})
            if twice:
                table = {"tag": "run", "on": "relief", "name": "camera"}[key]
                raise ValueError(f'two [[{table}]] have "{key}" = "{twice[0]}". Each needs its own')
        return self
