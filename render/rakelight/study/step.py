"""One finished step of a sweep: numbers, curves, and its picture until the exposure is known."""

import io
import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from rakelight.picture.shade import Picture
from rakelight.scene.number import Number
from rakelight.scene.run_plan import RunPlan
from rakelight.scene.scene import Caveat
from rakelight.study.pooled import Reading

Floats = NDArray[np.float64]

#: Half floats hold luminance up to here; a brighter opening is white at any exposure. [cd/m2]
_MOST_CD_M2 = 60000.0


@dataclass(frozen=True, slots=True, eq=False)
class Step:
    """What is kept of a step.

    Parameters
    ----------
    numbers : tuple of Number
        All measures of all surfaces.
    plans : tuple of RunPlan
        The runs as they stand.
    notes : tuple of str
    warnings : tuple of Caveat
    curves : mapping of str to ndarray
        Of the lit surface: ``height_m`` with ``flat_lx``, ``relief_lx`` and, on a relief,
        ``modulation_cd_m2``, ``over_mean``, ``smoothed_cd_m2``; of a ceiling ``distance_m``
        from the run's wall and ``across_lx``.
    reading : Reading or None
        For the exposure; None where nothing was drawn.
    rows_px : tuple of float
        Where the lit wall's top and foot are in the picture; nan where it is not seen square-on.
    """

    numbers: tuple[Number, ...]
    plans: tuple[RunPlan, ...]
    notes: tuple[str, ...]
    warnings: tuple[Caveat, ...]
    curves: Mapping[str, Floats]
    reading: Reading | None
    rows_px: tuple[float, float]

    def value(self, key: str) -> float:
        """Value of a number; nan where the step has none of that key."""
        return next((n.value for n in self.numbers if n.key == key), float("nan"))


def step_files(step: Step, picture: Picture | None) -> dict[str, bytes]:
    """Make the files of a step, by name; every digit of its numbers, pictures as half floats."""
    out = {"step.json": _json(step), "curves.npz": _arrays(dict(step.curves))}
    if picture is not None:
        out["picture.npz"] = _arrays(
            {
                "rgb": np.minimum(picture.rgb_cd_m2, _MOST_CD_M2).astype(np.float16),
                "edges": picture.edges.astype(np.int32),
                "edge_cd_m2": np.minimum(picture.edge_cd_m2, _MOST_CD_M2).astype(np.float16),
                "edge_shares": picture.edge_shares.astype(np.float32),
            }
        )
    return out


def step_of(files: Mapping[str, bytes]) -> Step:
    """Read a step back.

    Raises
    ------
    ValueError
        If the files are not whole.
    """
    try:
        record = json.loads(files["step.json"])
        reading = record["reading"]
        return Step(
            numbers=tuple(Number(*values) for values in record["numbers"]),
            plans=tuple(RunPlan(**plan) for plan in record["plans"]),
            notes=tuple(record["notes"]),
            warnings=tuple(Caveat(**one) for one in record["warnings"]),
            curves=_loaded(files["curves.npz"]),
            reading=None if reading is None else Reading.of_plain(reading),
            rows_px=(record["rows_px"][0], record["rows_px"][1]),
        )
    except (KeyError, TypeError, IndexError, OSError) as error:
        raise ValueError(f"not a step: {error}") from None


def picture_of(data: bytes) -> Picture:
    """Read a picture back: what `develop` needs of it."""
    found = _loaded(data)
    rgb = found["rgb"].astype(np.float32)
    return Picture(
        rgb_cd_m2=rgb,
        ids=np.zeros(rgb.shape[:2], np.int16),
        edges=found["edges"].astype(np.int64),
        edge_cd_m2=found["edge_cd_m2"].astype(np.float32),
        edge_shares=found["edge_shares"].astype(np.float32),
    )


def _json(step: Step) -> bytes:
    record: dict[str, Any] = {
        "numbers": [(n.key, n.value, n.unit, n.says) for n in step.numbers],
        "plans": [asdict(plan) for plan in step.plans],
        "notes": step.notes,
        "warnings": [asdict(one) for one in step.warnings],
        "reading": None if step.reading is None else step.reading.plain(),
        "rows_px": step.rows_px,
    }
    return json.dumps(record, default=float).encode()


def _arrays(arrays: Mapping[str, NDArray[Any]]) -> bytes:
    out = io.BytesIO()
    np.savez(out, allow_pickle=False, **arrays)
    return out.getvalue()


def _loaded(data: bytes) -> dict[str, NDArray[Any]]:
    with np.load(io.BytesIO(data), allow_pickle=False) as found:
        return {name: found[name] for name in found.files}
