"""Photometric files as text, one part at a time replaceable. Invented data throughout."""

from collections.abc import Iterable, Sequence


def row(values: Iterable[object]) -> str:
    return " ".join(f"{v:g}" if isinstance(v, float | int) else str(v) for v in values)


def planes(v: Sequence[float], h: Sequence[float]) -> list[list[float]]:
    """Candela that differ in every direction but at the poles."""
    table = []
    for k in range(len(h)):
        plane = [100.0 + 10 * j + k for j in range(len(v))]
        if v[0] == 0:
            plane[0] = 500.0
        if v[-1] == 180:
            plane[-1] = 50.0
        table.append(plane)
    if h and h[-1] == 360:
        table[-1] = list(table[0])
    return table


def lm63(
    *,
    first: str = "IESNA:LM-63-2002",
    keywords: Sequence[str] = ("[TEST] none, invented", "[MANUFAC] none"),
    tilt: str = "TILT=NONE",
    lamps: object = 1,
    lumens: object = -1,
    multiplier: object = 1,
    v: Sequence[float] = (0, 45, 90),
    h: Sequence[float] = (0, 90, 180),
    v_count: object = None,
    h_count: object = None,
    kind: object = 1,
    units: object = 2,
    size: str = "0.05 1.2 0",
    ballast: object = 1,
    future: object = 1,
    watts: object = 20,
    candela: object = None,
    tail: str = "\n",
) -> str:
    if candela is None:
        candela = "\n".join(row(plane) for plane in planes(v, h))
    v_count = len(v) if v_count is None else v_count
    h_count = len(h) if h_count is None else h_count
    lines = [first] if first else []
    lines += [
        *keywords,
        tilt,
        f"{lamps} {lumens} {multiplier} {v_count} {h_count} {kind} {units} {size}",
        f"{ballast} {future} {watts}",
        row(v),
        row(h),
        str(candela),
    ]
    return "\n".join(lines) + tail


def eulumdat(
    *,
    isym: object = 0,
    mc: int = 4,
    dc: object = 90,
    gamma: Sequence[float] = (0, 45, 90),
    dg: object = 45,
    c: Sequence[float] | None = None,
    stored: int | None = None,
    sets: Sequence[tuple[object, object, object]] = ((1, 1000, 20),),
    set_count: object = None,
    conversion: object = 1,
    lorl: object = None,
    sizes: Sequence[object] = (1200, 60, 80, 1180, 40),
    names: Sequence[str] = ("RK", "demo", "", "x.ldt", "01.01.2025"),
    intensities: Sequence[object] | None = None,
) -> str:
    """`sets` holds lamps, lumens and watts; angles and planes as the format has them."""
    c = [k * 360 / mc for k in range(mc)] if c is None else c
    if stored is None:
        stored = {"0": mc, "1": 1, "2": mc // 2 + 1, "3": mc // 2 + 1, "4": mc // 4 + 1}.get(
            str(isym), mc
        )
    if intensities is None:
        intensities = [v for plane in planes(gamma, range(stored)) for v in plane]
    lamp_lines = [
        line
        for lamps, lumens, watts in sets
        for line in (lamps, "none", lumens, "3000 K", "80", watts)
    ]
    lines = [
        "invented", 2, isym, mc, dc, len(gamma), dg, *names, *sizes, 0, 0, 0, 0, 100,
        100 if lorl is None else lorl, conversion, 0,
        len(sets) if set_count is None else set_count, *lamp_lines, *[0] * 10,
        *c, *gamma, *intensities,
    ]  # fmt: skip
    return "\r\n".join(f"{v:g}" if isinstance(v, float) else str(v) for v in lines) + "\r\n"


FILE_1 = """IESNA:LM-63-2002
[TEST] RK-1
[TESTLAB] none, invented data
[ISSUEDATE] 01-JAN-2025
[MANUFAC] none
TILT=NONE
1 -1 1.5 4 5 1 2 1.2 0.05 0
1 1 20
0 30 60 90
0 45 90 135 180
400 900 300 0
400 700 200 0
400 350 80 0
400 200 40 0
400 150 20
0
"""

FILE_2 = """IESNA91
[TEST] RK-2 invented
TILT=INCLUDE
1
3
0 45 90
1 0.97 0.93
1 1000 1 5 3 2 1 0.5 2 0
0.9 1 50
-90 -45 0 45 90
0, 45, 90
0,500,800,500,0
0 300 450 300 0
0 0 0 0 0
"""

_FILE_3_LINES = (
    "invented 3 3 8 45 4 30 RK-3 demo - rk3.ldt 01.01.2025 300 120 80 280 100 0 0 0 0 100 69,7 1.0"
    " 0 1 2 none 3000 3000_K 80 30 0 0 0 0 0 0 0 0 0 0 0 45 90 135 180 225 270 315 0 30 60 90"
    " 200 120 40 0 200 150 60 0 200 220 90 0 200 300,5 140 0 200 340 180 0"
)
FILE_3 = "".join(
    ("" if word == "-" else word.replace("_", " ")) + "\r\n" for word in _FILE_3_LINES.split()
)
