"""What every table of a scene has in common, and the names of the room's surfaces."""

from typing import Literal

from pydantic import BaseModel, ConfigDict

Wall = Literal["main", "opposite", "left", "right"]
SurfaceName = Literal["main", "opposite", "left", "right", "floor", "ceiling"]
WALLS: tuple[Wall, ...] = ("main", "opposite", "left", "right")
SURFACES: tuple[SurfaceName, ...] = (*WALLS, "floor", "ceiling")


class Table(BaseModel):
    """A TOML table: frozen, and a key it does not know is a fault."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)
