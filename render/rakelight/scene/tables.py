"""The scene's schema: one class for each TOML table; the reference page is written from it.

A field that ends in `_m`, `_rad` or `_lx` is in SI; its key in TOML is the alias, without the
unit. `None` means 'not stated': what then holds is said in the description.
"""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from rakelight.scene.painting_tables import PaintingTable, PictureFrameTable
from rakelight.scene.room_tables import CeilingTable, RoomTable, SurfacesTable, SurfaceTable
from rakelight.scene.run_table import HousingTable, RunTable, SlotTable
from rakelight.scene.standing_tables import (
    BenchTable,
    ColumnTable,
    CoveTable,
    EyeTable,
    FasciaTable,
    MeshTable,
    OpeningTable,
    PanelTable,
    SoffitTable,
)
from rakelight.scene.stated import (
    AboveZero,
    AutoOrKelvin,
    AutoOrNumber,
    Backing,
    Count,
    Distance,
    ImageSize,
    Length,
    Lux,
    Pair,
    Pixels,
    Point,
    Reflectance,
    Samples,
    Size,
    Takes,
    Truth,
    UprightOrMm,
)
from rakelight.scene.table import SURFACES, WALLS, SurfaceName, Table, Wall


class UnitsTable(Table):
    """Units of bare numbers in this scene, and of everything printed from it."""

    length: Literal["m", "mm", "ft", "in"] = Field(
        default="m", description="Unit of a length written as a bare number."
    )
    illuminance: Literal["lx", "fc"] = Field(
        default="lx", description="Unit of an illuminance written as a bare number."
    )


class OtherLightTable(Table):
    """Diffuse light that is not modelled; off unless stated, and named in every caption."""

    all_lx: Lux = Field(default=0.0, alias="all", description="On every surface.")
    main_lx: Lux | None = Field(default=None, alias="main", description="On the main wall.")
    opposite_lx: Lux | None = Field(default=None, alias="opposite", description="Opposite it.")
    left_lx: Lux | None = Field(default=None, alias="left", description="On the left wall.")
    right_lx: Lux | None = Field(default=None, alias="right", description="On the right wall.")
    floor_lx: Lux | None = Field(default=None, alias="floor", description="On the floor.")
    ceiling_lx: Lux | None = Field(default=None, alias="ceiling", description="On the ceiling.")


class AreaTable(Table):
    """A rectangle on a wall."""

    from_left_m: Distance = Field(
        default=0.0, alias="from_left", description="From the wall's left end, facing the wall."
    )
    from_foot_m: Distance = Field(default=0.0, alias="from_foot", description="From the floor.")
    width_m: Size = Field(alias="width", description="Along the wall.")
    height_m: Size = Field(alias="height", description="Up the wall.")
    proud_m: Length = Field(
        default=0.0,
        alias="proud",
        description="How far its mean plane stands in front of the wall's.",
    )


class ReliefTable(Table):
    """The surface texture of a wall, as real geometry."""

    tag: str = Field(
        default="", description="Its name, where one wall has several. Not stated: its wall's."
    )
    on: Wall = Field(
        default="main",
        description="The wall that has it: one over the whole wall, or several with an `area`.",
    )
    area: AreaTable | None = Field(
        default=None, description="The part of the wall that it covers. Not stated: all of it."
    )
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
    azimuths: Count = Field(default=30, description="Horizon azimuths over the half circle.")
    steps: Count = Field(default=32, description="Steps of the sum along a run.")
    bounce: Truth = Field(
        default=False,
        description="Follow light from surface to surface, and inside hollows. Takes longer; its "
        "spots are less sure than its averages.",
    )


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
        description="Height of the horizontal plane that is measured. Not stated: 750 mm.",
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
    opening: tuple[OpeningTable, ...] = Field(default=(), description="Doors, windows and niches.")
    cove: tuple[CoveTable, ...] = Field(default=(), description="Coves.")
    fascia: tuple[FasciaTable, ...] = Field(default=(), description="Boards that hide or cut off.")
    soffit: tuple[SoffitTable, ...] = Field(default=(), description="Boxes under the ceiling.")
    panel: tuple[PanelTable, ...] = Field(default=(), description="Floating ceilings.")
    column: tuple[ColumnTable, ...] = Field(default=(), description="Columns.")
    bench: tuple[BenchTable, ...] = Field(default=(), description="Benches and other boxes.")
    mesh: tuple[MeshTable, ...] = Field(default=(), description="Bodies from files.")
    painting: tuple[PaintingTable, ...] = Field(
        default=(), description="Paintings, graphics and murals."
    )
    eye: tuple[EyeTable, ...] = Field(default=(), description="Eyes to be spared the source.")
    run: tuple[RunTable, ...] = Field(default=(), description="Runs of luminaires.")
    camera: tuple[CameraTable, ...] = Field(default=(), description="Views.")
    picture: PictureTable = Field(default=PictureTable(), description="Exposure and size.")
    quality: QualityTable = Field(default=QualityTable(), description="Time against accuracy.")
    measure: MeasureTable = Field(default=MeasureTable(), description="What numbers cover.")

    @model_validator(mode="after")
    def _names_are_unique(self) -> "SceneTables":
        twice = _twice([run.tag for run in self.run if run.tag])
        if twice:
            raise ValueError(f'two [[run]] have "tag" = "{twice}". Each needs its own')
        twice = _twice([camera.name for camera in self.camera])
        if twice:
            raise ValueError(f'two [[camera]] have "name" = "{twice}". Each needs its own')
        twice = _twice([relief.tag or relief.on for relief in self.relief])
        if twice:
            key = "tag" if any(relief.tag == twice for relief in self.relief) else "on"
            own = "" if key == "tag" else ' "tag", and its own "area"'
            raise ValueError(f'two [[relief]] have "{key}" = "{twice}". Each needs its own{own}')
        whole = {relief.on for relief in self.relief if relief.area is None}
        both = sorted(whole & {relief.on for relief in self.relief if relief.area is not None})
        if both:
            raise ValueError(
                f'[[relief]] on "{both[0]}": one covers the whole wall. Give it an "area" too'
            )
        return self._standing_tags_are_unique()

    def _standing_tags_are_unique(self) -> "SceneTables":
        tags = [
            table.tag
            for name in (
                "cove",
                "fascia",
                "soffit",
                "panel",
                "column",
                "bench",
                "mesh",
                "opening",
                "painting",
            )
            for table in getattr(self, name)
            if table.tag
        ]
        twice = _twice(tags)
        if twice:
            raise ValueError(f'two things are tagged "{twice}". Each needs its own tag')
        return self


def _twice(names: list[str]) -> str:
    return next((name for name in sorted(names) if names.count(name) > 1), "")


__all__ = [
    "SURFACES",
    "WALLS",
    "AreaTable",
    "BenchTable",
    "CameraTable",
    "CeilingTable",
    "ColumnTable",
    "CoveTable",
    "EyeTable",
    "FasciaTable",
    "HousingTable",
    "MeasureTable",
    "MeshTable",
    "OpeningTable",
    "OtherLightTable",
    "PaintingTable",
    "PanelTable",
    "PictureFrameTable",
    "PictureTable",
    "QualityTable",
    "ReliefTable",
    "RoomTable",
    "RunTable",
    "SceneTables",
    "SlotTable",
    "SoffitTable",
    "SurfaceName",
    "SurfaceTable",
    "SurfacesTable",
    "Table",
    "UnitsTable",
    "Wall",
]
