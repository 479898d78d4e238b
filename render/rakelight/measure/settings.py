"""What a measure may be asked for: bands, the meter grid, eyes, and the runs themselves."""

from dataclasses import dataclass, field

from rakelight.scene.lit_line import LightGroup


@dataclass(frozen=True, slots=True)
class MeasureSettings:
    """Settings of the measures; the defaults are the documented ones.

    Parameters
    ----------
    top_m, foot_m : float
        Left out at the top and at the foot where max:min is taken; never more than a quarter
        of the height each. [m]
    band_m : float
        Largest height of a band in profiles and in texture by height. [m]
    grid_spacing_m : float or None
        Largest cell of the meter grid; None = the spacing of EN 12464-1. [m]
    grid_border_m : float
        Left out around the meter grid; 0 because a graze puts its light there. [m]
    eye_m : tuple of float or None
        An eye in the room, for how bright the relief looks. [m]
    groups : tuple of LightGroup
        The runs, for ripple and electrical figures; may be empty.
    """

    top_m: float = 0.3
    foot_m: float = 0.3
    band_m: float = 0.05
    grid_spacing_m: float | None = None
    grid_border_m: float = 0.0
    eye_m: tuple[float, float, float] | None = None
    groups: tuple[LightGroup, ...] = field(default=())

    def __post_init__(self) -> None:
        for name in ("top_m", "foot_m", "grid_border_m"):
            if not getattr(self, name) >= 0:
                raise ValueError(f"{name} is {getattr(self, name)}; it must be 0 m or more")
        if not self.band_m > 0:
            raise ValueError(f"band_m is {self.band_m}; it must be above 0 m")
        if self.grid_spacing_m is not None and not self.grid_spacing_m > 0:
            raise ValueError(f"grid_spacing_m is {self.grid_spacing_m}; it must be above 0 m")
