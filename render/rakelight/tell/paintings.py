"""What is said about paintings: the light on each, and when it is more than they bear."""

from collections.abc import Sequence

from rakelight.scene.number import Number
from rakelight.scene.painting import Painting
from rakelight.scene.scene import Caveat
from rakelight.tell.shown import Units, by_key, say

#: Illuminance above which light-sensitive work is at risk; CIE 157:2004, from memory: 200 lx
#: for what responds moderately, as oil and tempera do, 50 lx for paper, textiles, watercolour.
MOST_LX = 200.0


def painting_lines(
    paintings: Sequence[Painting], numbers: Sequence[Number], units: Units
) -> tuple[str, ...]:
    """One line for each painting: average and greatest illuminance on it."""
    found = by_key(numbers)
    return tuple(
        f"Painting {one.tag} on {one.on}: average "
        f"{say(found[f'painting {one.tag}.average_lx'], units)}, greatest "
        f"{say(found[f'painting {one.tag}.max_lx'], units)}."
        for one in paintings
    )


def painting_warnings(
    paintings: Sequence[Painting], numbers: Sequence[Number], units: Units
) -> tuple[Caveat, ...]:
    """A caveat for each painting that gets more than 200 lx anywhere."""
    found = by_key(numbers)
    out = []
    for one in paintings:
        most = found[f"painting {one.tag}.max_lx"]
        if most.value > MOST_LX:
            limit = say(Number("", MOST_LX, "lx", ""), units)
            says = (
                f"{say(most, units)} at its brightest, above the {limit} that oil and tempera "
                "bear (CIE 157, from memory; works on paper and textiles bear a quarter). Dim "
                "it, and ask the conservator."
            )
            out.append(Caveat("painting_too_bright", f"painting {one.tag}", says))
    return tuple(out)
