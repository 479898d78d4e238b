"""Wishes in the trade's words: what they mean, and what is said of those not understood."""

import pytest

from rakelight.errors import InputError
from rakelight.study.wishes import WORK_PLANE, parse_wish


@pytest.mark.parametrize(
    ("text", "kind", "values"),
    [
        ("drama at 1.5 m", "drama_at", {"at_m": 1.5}),
        ("Texture drama at 5 ft", "drama_at", {"at_m": 1.524}),
        ("drama 0.8-1.8 m", "drama_band", {"at_m": 0.8, "to_m": 1.8}),
        ("drama from 2 ft to 6 ft", "drama_band", {"at_m": 0.6096, "to_m": 1.8288}),
        ("even wall, at least 200 lx", "even", {"surface": "", "lx": 200.0}),
        ("even ceiling", "even", {"surface": "ceiling", "lx": 0.0}),
        ("focal glow at 1.6 m, 3:1", "glow", {"at_m": 1.6, "ratio": 3.0}),
        ("throw 3 m", "throw", {"at_m": 3.0, "share": 0.5}),
        ("throw 10 ft to a tenth", "throw", {"at_m": 3.048, "share": 0.1}),
        ("average 300 lx on main", "average", {"surface": "main", "lx": 300.0}),
        ("average 30 fc on the work plane", "average", {"surface": WORK_PLANE, "lx": 322.9173}),
        ("cut-off in the corner", "cutoff", {}),
    ],
)
def test_a_wish_is_read(text, kind, values):
    wish = parse_wish(text)
    assert wish.kind == kind
    for name, value in values.items():
        found = getattr(wish, name)
        assert found == (pytest.approx(value, rel=1e-6) if isinstance(value, float) else value)


def test_bare_numbers_take_the_scenes_units():
    assert parse_wish("drama at 1500", "mm").at_m == pytest.approx(1.5)
    assert parse_wish("average 30 on main", "m", "fc").lx == pytest.approx(322.917, rel=1e-5)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("make it nice", "not understood"),
        ("drama at noon", "not a length"),
        ("drama 1.8-0.8 m", "from the lower height to the higher one"),
        ("even fence", 'no surface "fence"'),
        ("focal glow at 1.6 m, 1:1", "above 1"),
        ("average 300 K on main", "not an illuminance"),
        ("throw -2 m", "above 0"),
    ],
)
def test_what_is_not_a_wish_is_refused_in_one_line(text, says):
    with pytest.raises(InputError) as caught:
        parse_wish(text)
    assert len(caught.value.faults) == 1
    assert says in caught.value.faults[0]
