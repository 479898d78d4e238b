"""Sheared lines: together they reach every vertex once."""

import numpy as np
import pytest

from rakelight.light.horizon import half_turn, horizon_tangents


@pytest.mark.parametrize("azimuth", half_turn(30)[[0, 4, 11, 15, 22]])
def test_no_vertex_is_skipped_where_a_line_passes_midway_between_two(azimuth):
    # a plane that falls toward the source along the axis that the lines march on: each
    # vertex's horizon lies below the mean plane by the plane's slope, or is open at a border
    rows, columns, step, fall = 1081, 1921, 0.0025, 0.2
    along_rows = abs(np.cos(azimuth)) >= abs(np.sin(azimuth))
    place = np.arange(rows)[:, None] if along_rows else np.sign(azimuth) * np.arange(columns)
    heights = np.broadcast_to(-fall * step * place, (rows, columns)).astype(np.float32)
    slope = -fall * (np.cos(azimuth) if along_rows else abs(np.sin(azimuth)))
    tangents = horizon_tangents(heights, step, step, np.array([azimuth]))[0]
    seen = tangents[tangents > -999]
    assert seen.size > 0.4 * rows * columns
    # float32 heights up to a metre over cells of a few millimetres
    np.testing.assert_allclose(seen, slope, atol=1e-4)
