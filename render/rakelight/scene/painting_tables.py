"""The schema's tables of what hangs on a wall or is painted on it."""

from typing import Annotated, Literal

from pydantic import Field, model_validator

from rakelight.scene.stated import Distance, Length, Reflectance, Share, Size, Takes, Truth
from rakelight.scene.table import Table, Wall


class PictureFrameTable(Table):
    """The frame round a painting."""

    width_m: Size = Field(default=0.04, alias="width", description="Of its face.")
    proud_m: Distance = Field(
        default=0.008,
        alias="proud",
        description="How far it stands in front of the picture, and so shades its edge.",
    )
    reflectance: Reflectance = Field(default=(0.08, 0.08, 0.08), description="Of the frame.")


class PaintingTable(Table):
    """A painting, a graphic or a mural from an image file."""

    tag: str = Field(default="", description="Its name. Not stated: A1, A2 and so on, by order.")
    on: Wall = Field(default="main", description="The wall.")
    kind: Literal["hung", "mural"] = Field(
        default="hung",
        description="`hung` stands off the wall and shades it; a `mural`, or a graphic, is on the "
        "surface itself and follows its relief.",
    )
    image: Annotated[str, Takes("shipped name, or path to an image")] = Field(
        description="What it shows: 8-bit sRGB, or with a colour profile."
    )
    width_m: Size | None = Field(
        default=None, alias="width", description="Of the image, without the frame."
    )
    height_m: Size | None = Field(
        default=None,
        alias="height",
        description="Likewise. One of the two is enough: the other follows from the image.",
    )
    from_left_m: Length | None = Field(
        default=None,
        alias="from_left",
        description="From the wall's left end to the image's left side, facing it. Not stated: "
        "in the middle of the wall.",
    )
    from_foot_m: Length | None = Field(
        default=None,
        alias="from_foot",
        description="From the floor to the image's lower side. Not stated: its middle 1.5 m up.",
    )
    depth_m: Size | None = Field(
        default=None,
        alias="depth",
        description="From the wall's mean plane to the picture. Not stated: 25 mm; a mural has "
        "none.",
    )
    frame: PictureFrameTable | None = Field(default=None, description="Not stated: none.")
    white_reflectance: Share = Field(
        default=0.8, description="Diffuse reflectance that the image's white stands for."
    )
    glazed: Truth = Field(default=False, description="Whether it is behind glass, which mirrors.")

    @model_validator(mode="after")
    def _sized_and_of_a_kind(self) -> "PaintingTable":
        if self.width_m is None and self.height_m is None:
            raise ValueError("missing width")
        if self.kind == "mural" and (self.frame is not None or self.depth_m is not None):
            raise ValueError('a "mural" has no "frame" and no "depth". Leave them out')
        return self
