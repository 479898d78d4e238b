"""Any mesh gives a height field of finite numbers or a worded refusal, within bounded memory."""

import tracemalloc

import numpy as np
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from rakelight.build.project_scan import ScanWish, project_scan

_MEMORY = 50_000_000
coordinate = st.floats(-5, 5, width=32) | st.sampled_from([0.0, 1.0, 1e-7, 4.9999995])


@st.composite
def meshes(draw):
    points = draw(st.lists(st.tuples(coordinate, coordinate, coordinate), min_size=3, max_size=14))
    corner = st.integers(0, len(points) - 1)
    faces = draw(st.lists(st.tuples(corner, corner, corner), min_size=1, max_size=20))
    return np.array(points, dtype=np.float64), np.array(faces, dtype=np.int64)


@st.composite
def sheets(draw):
    """Draw a sheet with any heights, some triangles gone, turned over or joined at will."""
    heights = np.array(draw(st.lists(st.floats(-0.25, 0.25), min_size=25, max_size=25)))
    u, v = np.meshgrid(np.linspace(0, 1, 5), np.linspace(0, 1, 5))
    points = np.stack([u.ravel(), heights, v.ravel()], axis=1)
    faces = [(5 * r + c, 5 * r + c + 1, 5 * r + c + 6) for r in range(4) for c in range(4)]
    faces += [(5 * r + c, 5 * r + c + 6, 5 * r + c + 5) for r in range(4) for c in range(4)]
    for _ in range(draw(st.integers(0, 4))):
        k = draw(st.integers(0, len(faces) - 1))
        what = draw(st.integers(0, 2))
        if what == 0:
            del faces[k]
        elif what == 1:
            faces[k] = faces[k][::-1]
        else:
            faces.append((*faces[k][:2], draw(st.integers(0, 24))))
    return points, np.array(faces, dtype=np.int64)


wishes = st.builds(
    ScanWish,
    step_m=st.sampled_from([1e-5, 0.004, 0.02, 0.02, 0.3]),
    front=st.none() | st.sampled_from([(0, 0, 1), (0.0, -1.0, 0.0), (1.0, 0.0, 0.0)]),
    turn_rad=st.floats(-7, 7),
    crop_m=st.sampled_from([None, None, None, (0.1, 0.2, 0.5, 0.3), (-1.0, 0.0, 2.0, 1e9)]),
    most_holes=st.sampled_from([0.05, 1.0]),
    tile=st.booleans(),
)


SHEET = np.array([[0, 0, 0], [1, 0, 0], [1, 0, 1], [0, 0.1, 1.0]])


@given(mesh=meshes() | sheets() | sheets(), wish=wishes)
@example(mesh=(SHEET, np.array([[0, 1, 2], [0, 2, 3]])), wish=ScanWish(0.02))
@settings(max_examples=50, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_any_mesh(mesh, wish):
    points, faces = mesh
    tracemalloc.start()
    try:
        made = project_scan(points, faces, wish, memory_bytes=_MEMORY)
    except ValueError as error:
        says = str(error)
        assert "\n" not in says
        assert 10 < len(says) < 250
        made = None
    finally:
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
    assert peak < 2 * _MEMORY
    if made is not None:
        assert np.isfinite(made.heights_m).all()
        assert made.heights_m.min() == 0
        assert 1e-6 <= made.heights_m.max() <= 1
        assert all(np.isfinite(n.value) and n.value >= 0 for n in made.numbers)
        assert all(n.value <= 1 for n in made.numbers if n.key.endswith("_share"))


def test_the_example_is_one_that_is_taken():
    made = project_scan(SHEET, np.array([[0, 1, 2], [0, 2, 3]]), ScanWish(0.02))
    assert min(made.heights_m.shape) > 40
