"""Readings against predictions: output factor, setback and tilt error, and what they allow.

The logarithm of each reading is compared with that of its prediction, so that a scatter in
percent weighs alike at bright and dark points.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.optimize import least_squares
from scipy.stats import chi2

from rakelight.errors import InputError
from rakelight.study.mockup import Meter

Floats = NDArray[np.float64]
Knob = Literal["setback", "tilt"]
Verdict = Literal["agrees", "doubtful", "measure again"]

KNOBS: tuple[Knob, ...] = ("setback", "tilt")
#: How far a fit may go: of the setback, and of the tilt. [share, rad]
SETBACK_SHARE = 0.5
TILT_RAD = math.radians(15.0)
#: A fit less sure than this is no answer: two standard deviations of the setback, as a share
#: and at least so much; of the tilt; of the logarithm of the output. [share, m, rad, 1]
SURE_SHARE, SURE_M, SURE_RAD, SURE_LOG = 0.15, 0.015, math.radians(4.0), 0.20
#: Rise of chi squared that rules a value out at 95 % (one degree of freedom).
RULED_OUT = 3.841


@dataclass(frozen=True, slots=True)
class Fitted:
    """One thing that was fitted.

    Parameters
    ----------
    what : {"factor", "setback", "tilt"}
        Output over the predicted one; error of the setback, farther positive; of the tilt,
        toward the lit side positive.
    value, sd : float
        Best value and its standard deviation. [1], [m] or [rad]
    """

    what: Literal["factor", "setback", "tilt"]
    value: float
    sd: float

    @property
    def low(self) -> float:
        """Lower end of the 95 % interval."""
        return self.value - 1.96 * self.sd

    @property
    def high(self) -> float:
        """Upper end of the 95 % interval."""
        return self.value + 1.96 * self.sd


@dataclass(frozen=True, slots=True, eq=False)
class Reconciled:
    """What readings say.

    Parameters
    ----------
    fitted : tuple of Fitted
        The factor first; empty where what was asked for cannot be told apart.
    separable : bool
        Whether the readings tell apart what was asked for.
    confused : tuple of str
        What goes together where they do not.
    factor_alone : Fitted
        The factor with setback and tilt taken as drawn.
    predicted_lx : ndarray of float64, shape (points,)
        As drawn. [lx]
    residual : ndarray of float64, shape (points,)
        Reading over the fitted prediction, less 1.
    off : ndarray of float64, shape (points,)
        The same in standard deviations of a single reading.
    verdicts : tuple of str
        For each point.
    chi2, dof : float, int
        Of the fit.
    widened : float
        By how much standard deviations were widened, because readings scatter more than was
        assumed; 1: not.
    """

    fitted: tuple[Fitted, ...]
    separable: bool
    confused: tuple[str, ...]
    factor_alone: Fitted
    predicted_lx: Floats
    residual: Floats
    off: Floats
    verdicts: tuple[Verdict, ...]
    chi2: float
    dof: int
    widened: float

    @property
    def explained(self) -> bool:
        """Whether the scatter left is what was assumed (95 %)."""
        return self.dof <= 0 or self.chi2 <= float(chi2.ppf(0.95, self.dof))

    def of(self, what: str) -> Fitted:
        """Return what was fitted of that name; ValueError if it was not."""
        for one in self.fitted:
            if one.what == what:
                return one
        raise ValueError(f"{what} was not fitted")


@dataclass(frozen=True, slots=True, eq=False)
class Model:
    """Predictions over setback and tilt errors.

    Parameters
    ----------
    meter : Meter
        Where is read, and what lights it.
    knobs : tuple of {"setback", "tilt"}
        What may be off.
    table : CubicSpline or None
        Logarithm of the predictions over the one knob, for many fits of one sheet.
    """

    meter: Meter
    knobs: tuple[Knob, ...]
    table: CubicSpline | None = None

    def predicted(self, changes: Floats) -> Floats:
        """Prediction with the knobs changed. [lx]"""
        if self.table is not None:
            out: Floats = np.exp(self.table(float(changes[0])))
            return out
        by = dict(zip(self.knobs, changes.tolist(), strict=True))
        return self.meter.predicted_lx(by.get("setback", 0.0), by.get("tilt", 0.0))

    def limits(self) -> tuple[Floats, Floats]:
        """How far each knob may go. [m] or [rad]"""
        setback = self.meter.plan.setback_m
        # the opening must stay in front of the meter's head
        nearest = 0.5 * self.meter.line.opening_width_m + max(0.0, self.meter.lift_m) + 1e-3
        least = max(-SETBACK_SHARE * setback, nearest - setback)
        low = {"setback": min(least, -1e-4), "tilt": -TILT_RAD}
        high = {"setback": SETBACK_SHARE * setback, "tilt": TILT_RAD}
        return np.array([low[k] for k in self.knobs]), np.array([high[k] for k in self.knobs])

    def scales(self) -> Floats:
        """A change of each knob that is worth noticing. [m] or [rad]"""
        size = {"setback": 0.1 * self.meter.plan.setback_m, "tilt": math.radians(2.0)}
        return np.array([size[k] for k in self.knobs])


def tabled(meter: Meter, knob: Knob, nodes: int = 161) -> Model:
    """A model of one knob from a table, for many fits of one sheet's readings."""
    model = Model(meter, (knob,))
    low, high = model.limits()
    at = np.linspace(float(low[0]), float(high[0]), nodes)
    logs = np.log([model.predicted(np.array([x])) for x in at.tolist()])
    return Model(meter, (knob,), CubicSpline(at, logs))


def reconcile(
    meter: Meter,
    measured_lx: Floats,
    scatter: Floats,
    fit: Sequence[Knob] = (),
    *,
    model: Model | None = None,
) -> Reconciled:
    """Fit the output factor and, if asked, errors of setback and tilt.

    Parameters
    ----------
    meter : Meter
        Where was read, and what lights it.
    measured_lx : ndarray of float64, shape (points,)
        Readings. [lx]
    scatter : ndarray of float64, shape (points,)
        One standard deviation of a single reading, as a share.
    fit : sequence of {"setback", "tilt"}
        What to fit beside the factor.
    model : Model, optional
        From `tabled`, for the same meter and the one thing in `fit`.

    Raises
    ------
    InputError
        If there are too few readings for it, or a point gets no light.

    Notes
    -----
    Weighted least squares on logarithms. Standard deviations come from the curvature at the
    best fit, widened where the readings scatter more than was assumed. The fit is called
    separable only if it is inside its bounds, surer than the limits above, and if chi squared
    rises on both sides of every value as that curvature says it must: else two causes explain
    the readings alike.
    """
    knobs: tuple[Knob, ...] = tuple(k for k in KNOBS if k in fit)
    count = measured_lx.size
    drawn = meter.predicted_lx()
    if not (drawn > 0).all():
        raise InputError("a point gets no light of the run by prediction; leave it out.")
    if count < len(knobs) + 2:
        raise InputError(
            f"{count} readings are too few to fit {1 + len(knobs)} things; "
            f"{len(knobs) + 2} or more are needed."
        )
    logs = np.log(measured_lx)
    alone = _factor(logs - np.log(drawn), scatter)
    if not knobs:
        done = _finish(logs, drawn, drawn, scatter, alone.value, 0)
        wide = done[-1]
        fitted = (Fitted("factor", alone.value, alone.sd * wide),)
        return Reconciled(fitted, True, (), fitted[0], drawn, *done)
    model = Model(meter, knobs) if model is None or model.knobs != knobs else model
    low, high = model.limits()
    scales = model.scales()

    def residuals(x: Floats) -> Floats:
        out: Floats = (logs - x[0] - np.log(model.predicted(x[1:] * scales))) / scatter
        return out

    start = np.concatenate([[math.log(alone.value)], np.zeros(len(knobs))])
    bounds = (np.concatenate([[-5.0], low / scales]), np.concatenate([[5.0], high / scales]))
    best = least_squares(residuals, start, bounds=bounds, x_scale="jac", xtol=1e-10)
    x: Floats = best.x
    predicted = model.predicted(x[1:] * scales)
    factor = math.exp(float(x[0]))
    done = _finish(logs, drawn, predicted, scatter, factor, len(knobs))
    wide = done[-1]
    values, sds, confused = _sureness(best.jac, x, wide, knobs)
    on_bound = bool(np.any(np.abs(x[1:] * scales - low) < 1e-3 * (high - low))) or bool(
        np.any(np.abs(high - x[1:] * scales) < 1e-3 * (high - low))
    )
    setback = meter.plan.setback_m
    most = {"setback": max(SURE_SHARE * setback, SURE_M), "tilt": SURE_RAD}
    unsure = 2 * sds[0] > SURE_LOG or any(
        2 * sds[k + 1] * scales[k] > most[knob] for k, knob in enumerate(knobs)
    )
    separable = not on_bound and not unsure
    if separable:
        separable = all(
            _profile_rises(residuals, x, k + 1, sds[k + 1], bounds, float(best.cost), wide)
            for k in range(len(knobs))
        )
    drawn_alone = _finish(logs, drawn, drawn, scatter, alone.value, 0)
    alone = Fitted("factor", alone.value, alone.sd * drawn_alone[-1])
    if not separable:
        return Reconciled((), False, confused, alone, drawn, *drawn_alone)
    found = [Fitted("factor", factor, factor * sds[0])]
    for k, knob in enumerate(knobs):
        size = float(scales[k])
        found.append(Fitted(knob, values[k + 1] * size, sds[k + 1] * size))
    return Reconciled(tuple(found), True, (), alone, drawn, *done)


def _factor(difference: Floats, scatter: Floats) -> Fitted:
    weight = 1 / scatter**2
    mean = float(np.sum(weight * difference) / weight.sum())
    return Fitted("factor", math.exp(mean), math.exp(mean) / math.sqrt(float(weight.sum())))


def _finish(
    logs: Floats, drawn: Floats, predicted: Floats, scatter: Floats, factor: float, knobs: int
) -> tuple[Floats, Floats, tuple[Verdict, ...], float, int, float]:
    """Residuals, verdicts and the fit's chi squared."""
    off = (logs - math.log(factor) - np.log(predicted)) / scatter
    residual = np.exp(off * scatter) - 1
    verdicts: tuple[Verdict, ...] = tuple(
        "agrees" if abs(z) < 2 else "doubtful" if abs(z) < 3 else "measure again"
        for z in off.tolist()
    )
    dof = logs.size - 1 - knobs
    total = float(off @ off)
    wide = math.sqrt(max(1.0, total / dof)) if dof > 0 else 1.0
    return residual, off, verdicts, total, dof, wide


def _sureness(
    jac: Floats, x: Floats, wide: float, knobs: tuple[Knob, ...]
) -> tuple[list[float], list[float], tuple[str, ...]]:
    """Values, standard deviations, and what goes together in the least sure direction."""
    names = ("output", *knobs)
    _, size, axes = np.linalg.svd(jac, full_matrices=False)
    # a tenth of the output weighs as much as a tenth of the setback
    least = np.linalg.svd(jac * np.array([0.1, *(1.0 for _ in knobs)]), full_matrices=False)[2][-1]
    confused = tuple(name for name, part in zip(names, least, strict=True) if abs(part) > 0.15)
    if size[-1] <= 1e-12 * size[0]:
        return x.tolist(), [math.inf] * x.size, confused
    cover = (axes.T / size**2) @ axes
    return x.tolist(), (wide * np.sqrt(np.diag(cover))).tolist(), confused


def _profile_rises(
    residuals: Callable[[Floats], Floats],
    x: Floats,
    which: int,
    sd: float,
    bounds: tuple[Floats, Floats],
    cost: float,
    wide: float,
) -> bool:
    """Whether holding one value 2.5 standard deviations off, on either side, is ruled out."""
    others = [k for k in range(x.size) if k != which]
    for way in (-1.0, 1.0):
        held = x[which] + way * 2.5 * sd
        if not bounds[0][which] < held < bounds[1][which]:
            held = bounds[0][which] if way < 0 else bounds[1][which]

        def rest(y: Floats, held: float = held) -> Floats:
            whole = np.empty(x.size)
            whole[others], whole[which] = y, held
            return residuals(whole)

        limits = bounds[0][others], bounds[1][others]
        best = least_squares(rest, np.clip(x[others], *limits), bounds=limits, x_scale="jac")
        if 2 * (float(best.cost) - cost) / wide**2 < RULED_OUT:
            return False
    return True
