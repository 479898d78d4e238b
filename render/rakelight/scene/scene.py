"""A scene, built: what every later room needs, and what captions say about it."""

from dataclasses import dataclass

from rakelight.scene.camera import Camera
from rakelight.scene.painting import Painting
from rakelight.scene.quality import Quality
from rakelight.scene.run_plan import RunPlan
from rakelight.scene.surfaces import Room
from rakelight.scene.tables import SceneTables
from rakelight.units import IlluminanceUnit, LengthUnit


@dataclass(frozen=True, slots=True)
class Caveat:
    """Something that a lighting designer would want to know before building it.

    Parameters
    ----------
    key : str
        Stable name, ``near_field``.
    place : str
        What it is about: ``run L1``, ``relief on main``.
    says : str
        One sentence in plain words, lengths in the scene's units.
    """

    key: str
    place: str
    says: str


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """One scene file, resolved.

    Parameters
    ----------
    name : str
        The file's name without its ending; outputs are named after it.
    title : str
        For captions.
    tables : SceneTables
        Everything stated, with defaults: picture, measure, units.
    room : Room
        Surfaces, light groups and bodies.
    runs : tuple of RunPlan
        In the order of the scene file.
    cameras : tuple of Camera
        Stated ones, or `front` and `seat`; `along` too where a run has gaps.
    quality : Quality
        How finely to compute.
    notes : tuple of str
        What was chosen, assumed or scaled.
    warnings : tuple of Caveat
        What to look at before building it.
    paintings : tuple of Painting
        What hangs on its walls, or is painted on them.
    """

    name: str
    title: str
    tables: SceneTables
    room: Room
    runs: tuple[RunPlan, ...]
    cameras: tuple[Camera, ...]
    quality: Quality
    notes: tuple[str, ...] = ()
    warnings: tuple[Caveat, ...] = ()
    paintings: tuple[Painting, ...] = ()

    @property
    def length_unit(self) -> LengthUnit:
        """Unit in which the scene's lengths are printed."""
        return self.tables.units.length

    @property
    def illuminance_unit(self) -> IlluminanceUnit:
        """Unit in which the scene's illuminance is printed."""
        return self.tables.units.illuminance
