"""Rules of thumb of the trade, tried on our own photometric files and reliefs.

``python -m rakelight.study.rules_of_thumb > shared/docs/rules-of-thumb.md`` writes the page.
The rules are common practice, without a source; the figures are computed here.
"""

import itertools
import math
import sys
from collections.abc import Callable
from typing import Any

import numpy as np
from scipy.optimize import brentq, minimize_scalar

from rakelight.build.cross_section import landing
from rakelight.measure import MeasureSettings
from rakelight.measure.area import band_max_to_min
from rakelight.measure.brightness import brightness_numbers
from rakelight.measure.profile import profile
from rakelight.measure.texture import texture
from rakelight.study.outcomes import peak_height_m
from rakelight.study.trials import Candidate, bench
from rakelight.study.tried_rules import Finding, Trier

_IN = 0.0254


def drama_moves(trier: Trier) -> Finding:
    """Small changes of setback, and where the drama sits."""
    rows, centres = [], []
    for setback in (0.05, 0.075, 0.1, 0.15, 0.225, 0.3):
        found = texture(trier.lit("graze-medium", setback).fields)
        (low, _), (_, high) = found.drama_zones_m[0], found.drama_zones_m[-1]
        centres.append(found.drama_centre_m)
        rows.append(
            (
                f"{1000 * setback:.0f} mm", f"{found.drama_centre_m:.2f} m",
                f"{low:.2f} to {high:.2f} m", f"{found.over_mean.max():.1f}",
            )
        )  # fmt: skip
    fall = centres[0] - centres[-1]
    steady = all(b < a + 0.05 for a, b in itertools.pairwise(centres))
    at_top = centres[0] > 0.75 * 2.7
    verdict = "holds" if steady and fall > 0.2 and at_top else "holds in part"
    limit = (
        "Nearest to the wall it sits in the top quarter."
        if at_top
        else f"Nearest to the wall its centre is still only {centres[0]:.2f} m up a wall of 2.7 m: "
        "a beam that points down at tilt 0 lights the very top hardly at all."
    )
    return Finding(
        "Small changes of setback move the drama a lot: nearly touching it sits at the top, with "
        "more setback lower.",
        verdict,
        f"On split ledgestone the drama centre falls by {fall:.2f} m from 50 to 300 mm, and "
        f"{centres[0] - centres[2]:.2f} m of that in the first 50 mm. {limit}",
        ("setback", "drama centre", "drama zone", "texture over mean"),
        tuple(rows),
        {"fall_m": fall, "first_m": centres[0] - centres[2], "steady": float(steady)},
    )


def deep_relief(trier: Trier) -> Finding:
    """Depth of the relief against the setback for an equal share in shadow."""
    share = texture(trier.lit("graze-wide", 0.12, {"relief.main.depth": "16 mm"}).fields)

    def off(setback: float) -> float:
        there = trier.lit("graze-wide", setback, {"relief.main.depth": "32 mm"})
        return texture(there.fields).shadow_share - share.shadow_share

    same = float(brentq(off, 0.1, 0.6, xtol=2e-3))
    ratio = same / 0.12
    return Finding(
        "Deep relief wants more setback.",
        "holds" if ratio > 1.2 else "contradicted",
        f"Ledgestone 16 mm deep at 120 mm has {share.shadow_share:.0%} of the wall in shadow; "
        f"twice as deep it takes {1000 * same:.0f} mm for the same, {ratio:.1f} times as much.",
        ("depth", "setback", "share in shadow"),
        (
            ("16 mm", "120 mm", f"{share.shadow_share:.1%}"),
            ("32 mm", f"{1000 * same:.0f} mm", f"{share.shadow_share:.1%}"),
        ),
        {"ratio": ratio},
    )


def wash_looks_brighter(trier: Trier) -> Finding:
    """The same lumens, near and far: what the wall catches, and what a low eye sees of it."""
    rows: list[tuple[str, ...]] = []
    caught: dict[tuple[str, float], float] = {}
    seen: dict[tuple[str, float], float] = {}
    looks: dict[tuple[str, float], float] = {}
    graze, wash = ("graze-medium", 0.076), ("wash-flat", 0.762)
    tried = (("graze-wide", 0.05), ("graze-wide", 0.15), ("graze-wide", 0.762), graze, wash)
    for one in tried:
        trial = trier.lit(*one)
        light = trial.fields
        per_klm = 1000 / trial.line.lumens / trial.plan.dim
        plane = float(np.sum(light.flat_lx * light.plane_m2) / np.sum(light.plane_m2)) * per_klm
        eye = (0.5 * light.surface.grid.width_m, trial.scene.tables.room.depth_m - 1.5, 1.2)
        numbers = {n.key: n.value for n in brightness_numbers(light, MeasureSettings(eye_m=eye))}
        caught[one], seen[one] = plane, numbers["main.seen_share"]
        looks[one] = numbers["main.seen_cd_m2"] * per_klm
        rows.append(
            (
                one[0], f"{1000 * one[1]:.0f} mm", f"{plane:.0f} lx",
                f"{looks[one]:.1f} cd/m2", f"{seen[one]:.2f}",
            )
        )  # fmt: skip
    near, middle, far = tried[:3]
    by_eye = seen[far] > max(seen[near], seen[middle])
    looks_so = looks[wash] > looks[graze]
    verdict = "holds" if by_eye and looks_so else "holds in part" if by_eye else "contradicted"
    brighter = "brighter" if looks_so else "darker"
    return Finding(
        "At equal lumens a wash looks brighter than a graze.",
        verdict,
        f"Not by flux: for 1000 lm the wall catches {caught[graze]:.0f} lx of the grazing file at "
        f"76 mm and {caught[wash]:.0f} lx of the washing file at 762 mm; one file at tilt 0 gives "
        f"it {caught[near]:.0f} lx from 50 mm and {caught[far]:.0f} lx from 762 mm. It is the "
        "texture and the eye: lit ledges face up, and from below one sees their dark undersides. "
        "Of what a flat wall would show from a seat, ledgestone shows "
        f"{seen[near]:.2f} lit from 50 mm, {seen[middle]:.2f} from 150 mm and {seen[far]:.2f} from "
        f"762 mm. All told the wash looks {brighter}: {looks[wash]:.1f} against {looks[graze]:.1f} "
        "cd/m2 for 1000 lm. On a flat wall nothing of this holds.",
        ("file", "setback", "average for 1000 lm", "seen from a seat", "over a flat wall's"),
        tuple(rows),
        {
            "seen_near": seen[near], "seen_middle": seen[middle], "seen_far": seen[far],
            "looks": looks[wash] / looks[graze],
        },
    )  # fmt: skip


def flatter_from_afar(trier: Trier) -> Finding:
    """Max:min of a wall against the setback, aimed at its foot."""
    rows, ratios = [], []
    for inches in (3, 6, 12, 24, 30, 36):
        aimed = {"run.1.beam_aim": "base", "run.1.drop": "0.06 m", "relief": []}
        trial = trier.lit("wash-flat", inches * _IN, aimed)
        ratio, _, _ = band_max_to_min(trial.fields, 0.3, 0.3)
        ratios.append(ratio)
        rows.append((f"{inches} in ({1000 * inches * _IN:.0f} mm)", f"{ratio:.1f}:1"))
    return Finding(
        "A wall gets flatter from farther away; about 30 to 36 in for a wall of 9 ft.",
        "holds" if max(ratios[-2:]) < min(ratios[:2]) else "contradicted",
        f"The same file aimed at the foot: {ratios[0]:.0f}:1 at 3 in, {ratios[4]:.1f}:1 at 30 in.",
        ("setback", "max:min"),
        tuple(rows),
        {"near": ratios[0], "far": ratios[4]},
    )


def closer_is_hotter(trier: Trier) -> Finding:
    """A fixed optic brought from 30 to 24 in: how much brighter, how much higher."""
    rows: list[tuple[str, ...]] = []
    values: dict[str, float] = {}
    for name, file, more in (
        ("long run", "wash-flat", {}),
        ("single luminaire", "spot-single", {"run.1.count": 1, "run.1.centred": True}),
    ):
        peaks, heights = [], []
        for setback in (30 * _IN, 24 * _IN):
            still = {"run.1.tilt": "35 deg", "run.1.drop": "0 m", "relief": []}
            low = {"run.1.housing.height": "20 mm"}
            trial = trier.lit(file, setback, {**more, **still, **low})
            light = trial.fields
            curve = profile(light)
            peaks.append(float(light.flat_lx.max()))
            heights.append(peak_height_m(curve.v_m, np.nan_to_num(curve.flat_lx)))
        values[f"{name}.ratio"] = peaks[1] / peaks[0]
        values[f"{name}.rise_m"] = heights[1] - heights[0]
        rows.append(
            (
                name, f"{peaks[1] / peaks[0]:.2f}", f"{heights[0]:.2f} m", f"{heights[1]:.2f} m",
            )
        )  # fmt: skip
    rise = values["long run.rise_m"]
    return Finding(
        "Closer raises the hot spot and makes it hotter: from 30 to 24 in the band goes from "
        "5-6 ft to 7-8 ft.",
        "holds in part" if 0 < rise < 0.5 else "contradicted" if rise <= 0 else "holds",
        "It rises and brightens, but by less than is said: with file and tilt fixed, light on a "
        "flat wall only scales with the setback. The peak comes nearer to the run by the ratio of "
        f"the setbacks, here up by {rise:.2f} m. A long run brightens in proportion "
        f"({values['long run.ratio']:.2f} for 1.25), a single luminaire by the square "
        f"({values['single luminaire.ratio']:.2f} for 1.56).",
        ("source", "peak at 24 in over that at 30 in", "peak height at 30 in", "at 24 in"),
        tuple(rows),
        values,
    )


def taller_wants_more(trier: Trier) -> Finding:
    """Setback of the smallest max:min against the wall's height."""
    rows, best = [], []
    for height in (2.4, 3.0, 3.6):
        more = {
            "room.height": f"{height} m", "run.1.drop": "0 m", "run.1.housing.height": "20 mm",
            "measure.top": f"{height / 9} m", "measure.foot": f"{height / 9} m",
            "room.width": f"{4 * height} m", "relief": [],
        }  # fmt: skip
        on = bench(trier.scene("wash-flat", more), step_m=max(trier.step_m, 0.04))

        def ratio(s: float, height: float = height, on: Any = on) -> float:
            trial = on.try_one(Candidate("", float(s)))
            return band_max_to_min(trial.fields, height / 9, height / 9)[0]

        done = minimize_scalar(
            ratio, bounds=(0.15 * height, 0.6 * height), method="bounded", options={"xatol": 0.01}
        )
        best.append(float(done.x))
        rows.append((f"{height:.1f} m", f"{done.x:.2f} m", f"{done.x / height:.2f}"))
    shares = [b / h for b, h in zip(best, (2.4, 3.0, 3.6), strict=True)]
    return Finding(
        "A taller wall wants a larger setback.",
        "holds" if best[0] < best[1] < best[2] else "contradicted",
        "In proportion: with one file and tilt the wall is only scaled. The flattest setback is "
        f"{min(shares):.2f} to {max(shares):.2f} of the height for the wash file.",
        ("height", "flattest setback", "over height"),
        tuple(rows),
        {"low": min(shares), "high": max(shares)},
    )


def base_aim(_: Trier) -> Finding:
    """Aim at the foot: atan(setback / height), against 'about 15 degrees'."""
    rows = []
    for setback, height in ((24, 108), (30, 108), (36, 108), (36, 144)):
        angle = math.degrees(math.atan2(setback, height))
        rows.append((f"{setback} in", f"{height} in", f"{angle:.2f} deg"))
    there = 36 / math.tan(math.radians(15))
    where, at = landing(
        36 * _IN, 108 * _IN, math.radians(15), across_room_m=4.0, room_height_m=108 * _IN
    )
    return Finding(
        "Aim about 15 degrees, at the wall's foot: atan(setback / height).",
        "holds in part",
        "15 deg fits 30 in beside a wall of 9 ft (0.52 deg off). At 36 in it is 3.43 deg off: the "
        f"beam would meet the wall's plane {there - 108:.1f} in below the floor, so it lands on "
        f"the {where}, {at / _IN:.1f} in off the wall. It is where the file's peak points, not the "
        "housing's tilt.",
        ("setback", "height", "aim"),
        tuple(rows),
        {"below_in": there - 108, "aim_30": math.degrees(math.atan2(30, 108))},
    )


def row_ripple(lit_m: float, gap_m: float, distance_m: float) -> float:
    """Peak-to-trough over mean along an endless row with gaps, candela falling as a cosine.

    Notes
    -----
    The row's Fourier series, each harmonic n damped by (1 + k d) exp(-k d), k = 2 pi n / pitch:
    the exact transform of 1 / (d^2 + u^2)^2 (re-derived).
    """
    pitch = lit_m + gap_m
    n = np.arange(1, 401)[:, None]
    share = np.pi * n * lit_m / pitch
    k = 2 * np.pi * n * distance_m / pitch
    along = np.linspace(0.0, 1.0, 801)
    wave = 2 * np.sin(share) / share * (1 + k) * np.exp(-k) * np.cos(2 * np.pi * n * along)
    return float(np.ptp(wave.sum(axis=0)))


def gaps(_: Trier) -> Finding:
    """Ripple under a row with gaps, by distance from the row."""
    rows = []
    values = {}
    for lit, gap in ((0.3, 0.075), (0.3, 0.2), (1.2, 0.075), (1.2, 0.2)):
        cells = []
        for distance in (0.05, 0.1, 0.3, 0.762):
            ripple = row_ripple(lit, gap, distance)
            values[f"{lit}/{gap}/{distance}"] = ripple
            cells.append(f"{ripple:.1%}")
        rows.append((f"{1000 * lit:.0f} / {1000 * gap:.0f} mm", *cells))
    return Finding(
        "Gaps up to about 3 in vanish.",
        "holds in part",
        "They fade with the distance from the row, about one pitch down whatever the setback, and "
        "sooner for short luminaires. What vanishes at an acute view is still there in a reading: "
        f"75 mm between lengths of 1.2 m leave {values['1.2/0.075/0.3']:.0%} at 300 mm.",
        ("lit / gap", "50 mm off", "100 mm", "300 mm", "762 mm"),
        tuple(rows),
        values,
    )


def deeper_cove_is_more_even(trier: Trier) -> Finding:
    """Max:min of a ceiling against the distance of a run below it."""
    rows, ratios = [], []
    for inches in (4, 6, 12, 18):
        more = {
            "run.1.lights": "ceiling", "run.1.along": "main", "run.1.beside": "main",
            "run.1.height": f"{2.7 - inches * _IN} m", "run.1.tilt": "0 deg",
            "relief": [], "run.1.housing": {"width": "40 mm", "height": "40 mm"},
        }  # fmt: skip
        light = trier.lit("cove-throw", 0.1, more).fields
        v = light.surface.grid.v_m()
        depth = light.surface.grid.height_m
        away = np.abs(v - (depth if light.flat_lx[-1].mean() > light.flat_lx[0].mean() else 0.0))
        middle = light.flat_lx[:, light.surface.grid.columns // 2]
        part = middle[(away > 0.6) & (away < 3.4)]
        ratios.append(float(part.max() / part.min()))
        rows.append((f"{inches} in ({1000 * inches * _IN:.0f} mm)", f"{ratios[-1]:.1f}:1"))
    falls = all(b < a for a, b in itertools.pairwise(ratios))
    return Finding(
        "A cove wants to hang well below the ceiling: 4 to 12 in for a short throw, 18 in else.",
        "holds" if falls else "contradicted",
        f"Across the middle of the ceiling, 0.6 to 3.4 m from the wall, the throwing file gives "
        f"{ratios[0]:.0f}:1 from 4 in below and {ratios[-1]:.0f}:1 from 18 in. No single lobe "
        "makes a ceiling even from 4 in.",
        ("below the ceiling", "max:min from 0.6 to 3.4 m"),
        tuple(rows),
        {"near": ratios[0], "far": ratios[-1], "falls": float(falls)},
    )


RULES: tuple[Callable[[Trier], Finding], ...] = (
    drama_moves, deep_relief, wash_looks_brighter, flatter_from_afar, closer_is_hotter,
    taller_wants_more, base_aim, gaps, deeper_cove_is_more_even,
)  # fmt: skip


def page(trier: Trier | None = None) -> str:
    """The whole page in Markdown."""
    lines = [
        "# Rules of thumb, tried",
        "",
        "What the trade says of walls, tried on Rakelight's own photometric files and reliefs in "
        "the shipped ticket hall (wall 4.8 x 2.7 m, direct light, initial, full output). The rules "
        "are common practice and have no source; the figures are computed. To write this page "
        "anew: `python -m rakelight.study.rules_of_thumb > shared/docs/rules-of-thumb.md`.",
        "",
        "Other optics give other figures. Predicted, not a guarantee: verify with a mock-up.",
        "",
    ]
    for rule in RULES:
        found = rule(trier or Trier())
        lines += [f"## {found.rule}", "", f"**{found.verdict.capitalize()}.** {found.says}", ""]
        lines += ["| " + " | ".join(found.heads) + " |", "|" + "-|" * len(found.heads)]
        lines += ["| " + " | ".join(row) + " |" for row in found.rows]
        lines.append("")
    return "\n".join(lines).rstrip() + "\n"


if __name__ == "__main__":
    sys.stdout.write(page())
