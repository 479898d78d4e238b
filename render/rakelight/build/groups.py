"""Runs that share one dim level, one maintenance factor and one colour are one light group."""

from collections.abc import Sequence

from rakelight.scene.lit_line import LightGroup, LitLine
from rakelight.scene.run_plan import RunPlan
from rakelight.scene.white import white_rgb


def alike(plans: Sequence[RunPlan]) -> dict[tuple[float, float, float], list[int]]:
    """Sort runs into groups.

    Parameters
    ----------
    plans : sequence of RunPlan
        All runs of a scene.

    Returns
    -------
    dict of (dim, maintenance, cct_k) to list of int
        Indices into `plans`, in the order in which the groups' first runs come.
    """
    groups: dict[tuple[float, float, float], list[int]] = {}
    for i, plan in enumerate(plans):
        groups.setdefault((plan.dim, plan.maintenance, plan.cct_k), []).append(i)
    return groups


def light_groups(plans: Sequence[RunPlan], lines: Sequence[LitLine]) -> tuple[LightGroup, ...]:
    """Make the light groups of a scene.

    Parameters
    ----------
    plans : sequence of RunPlan
        All runs of a scene.
    lines : sequence of LitLine
        The same runs as the light sees them.
    """
    return tuple(
        LightGroup(tuple(lines[i] for i in group), dim, maintenance, white_rgb(cct), cct)
        for (dim, maintenance, cct), group in alike(plans).items()
    )
