"""A second reader of photometric files, written without the first: slow, plain, valid files only.

`candela(data, c, gamma)` answers from the stored planes by folding the direction back into the
range that the file has, where the product opens the planes out to the whole sphere.
"""

import math
from bisect import bisect_right


class Plain:
    def __init__(self, c, gamma, table, fold):
        self.c, self.gamma, self.table, self.fold = c, gamma, table, fold

    def candela(self, c, gamma):
        if not self.gamma[0] <= gamma <= self.gamma[-1]:
            return 0.0
        c = self.fold(c % 360)
        if len(self.c) == 1:
            return between(self.gamma, self.table[0], gamma)
        column = [between(self.gamma, plane, gamma) for plane in self.table]
        return between(self.c, column, c)

    def lumens(self, steps=360):
        """Midpoint rule in gamma, fine; C by the trapezium on whole degrees."""
        total = 0.0
        for k in range(steps):
            a, b = 180 * k / steps, 180 * (k + 1) / steps
            band = 2 * math.pi * (math.cos(math.radians(a)) - math.cos(math.radians(b)))
            around = sum(self.candela(c, (a + b) / 2) for c in range(0, 360, 5)) / 72
            total += band * around
        return total


def between(nodes, values, x):
    k = min(max(bisect_right(nodes, x) - 1, 0), len(nodes) - 2)
    share = (x - nodes[k]) / (nodes[k + 1] - nodes[k])
    return values[k] + (values[k + 1] - values[k]) * share


def read_plain_lm63(data: bytes) -> Plain:
    """Type C, every horizontal range, TILT=NONE."""
    lines = data.decode("latin-1").splitlines()
    at = next(k for k, line in enumerate(lines) if line.startswith("TILT"))
    values = [float(word) for line in lines[at + 1 :] for word in line.replace(",", " ").split()]
    nv, nh = int(values[3]), int(values[4])
    factor = values[2] * values[10]
    if "IES" not in lines[0] or "91" in lines[0]:
        factor *= values[11]
    gamma, c = values[13 : 13 + nv], values[13 + nv : 13 + nv + nh]
    rest = values[13 + nv + nh :]
    table = [[v * factor for v in rest[k * nv : (k + 1) * nv]] for k in range(nh)]
    first, last = c[0], c[-1]

    def fold(x):
        if (first, last) == (0, 90):
            x = x if x <= 180 else 360 - x
            return x if x <= 90 else 180 - x
        if (first, last) == (0, 180):
            return x if x <= 180 else 360 - x
        if (first, last) == (90, 270):
            return x if 90 <= x <= 270 else (180 - x) % 360
        return x

    return Plain(c, gamma, table, fold)


def read_plain_eulumdat(data: bytes) -> Plain:
    """Every Isym; the first lamp set."""
    lines = [line.strip().replace(",", ".") for line in data.decode("latin-1").splitlines()]
    isym, mc, ng = int(lines[2]), int(lines[3]), int(lines[5])
    n = int(lines[25])
    factor = float(lines[23]) * float(lines[28]) / 1000
    at = 26 + 6 * n + 10
    angles = [float(v) for v in lines[at : at + mc]]
    gamma = [float(v) for v in lines[at + mc : at + mc + ng]]
    stored = [float(v) * factor for v in lines[at + mc + ng :] if v]
    table = [stored[k : k + ng] for k in range(0, len(stored), ng)]
    if isym == 0:
        return Plain([*angles, 360.0], gamma, [*table, table[0]], lambda x: x)
    if isym == 1:
        return Plain([0.0], gamma, table, lambda x: 0.0)
    if isym == 2:
        return Plain(angles[: mc // 2 + 1], gamma, table, lambda x: min(x, 360 - x))
    if isym == 4:

        def quarter(x):
            x = min(x, 360 - x)
            return min(x, 180 - x)

        return Plain(angles[: mc // 4 + 1], gamma, table, quarter)
    # from C270 over C0 to C90, as -90 to 90
    c = [v - 360 for v in angles[3 * mc // 4 :]] + angles[: mc // 4 + 1]

    def half(x):
        x = (x + 180) % 360 - 180
        return math.copysign(180, x) - x if abs(x) > 90 else x

    return Plain(c, gamma, table, half)
