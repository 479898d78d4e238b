"""What a tried rule of thumb is, and the hall in which it is tried."""

from dataclasses import dataclass, field
from typing import Any

from rakelight.read.toml import SceneFile, lay_values, read_scene
from rakelight.study.trials import Candidate, Trial, bench


@dataclass(frozen=True, slots=True)
class Finding:
    """One rule and what came of it.

    Parameters
    ----------
    rule : str
        As the trade says it.
    verdict : {"holds", "holds in part", "contradicted"}
        Decided by the figures.
    says : str
        When and how far.
    heads : tuple of str
        Of the table.
    rows : tuple of tuple of str
        The figures.
    values : mapping of str to float
        Key figures, for the tests.
    """

    rule: str
    verdict: str
    says: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    values: dict[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Trier:
    """The shipped ticket hall with other files, setbacks and reliefs, at one mesh.

    Parameters
    ----------
    step_m : float
        Mesh of the relief. [m]
    width : str
        Of the wall; a narrow one is quicker.
    """

    step_m: float = 0.01
    width: str = "4.8 m"

    def scene(self, file: str, more: dict[str, Any] | None = None) -> SceneFile:
        """The hall with a file, and values laid over it."""
        values: dict[str, Any] = {
            "room.width": self.width, "run.1.photometry": file, "run.1.dim": 1.0,
            "other_light.all": "0 lx",
        }  # fmt: skip
        return lay_values(read_scene("ticket-hall-graze"), {**values, **(more or {})})

    def lit(self, file: str, setback_m: float, more: dict[str, Any] | None = None) -> Trial:
        """The hall lit; ValueError where the run does not clear the relief."""
        on = bench(self.scene(file, more), step_m=self.step_m)
        trial = on.try_one(Candidate("", setback_m))
        if trial is None:
            raise ValueError(f"{file} at {setback_m} m does not clear the relief")
        return trial
