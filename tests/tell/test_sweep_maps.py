"""Maps of a sweep over two ranges: colours that tell steps apart, and of what they are."""

import matplotlib
import numpy as np
import pytest
from matplotlib.collections import QuadMesh

from rakelight.tell.charts import Axis, value_map

RATIOS = np.array([[5.0, 10.0, np.nan], [50.0, 600.0, 928.5]])
WORDS = [["5.0:1", "10.0:1", ""], ["50.0:1", "600:1", "928:1"]]


def drawn(by_factors):
    across = Axis(range(3), "setback", ["60 mm", "120 mm", "180 mm"])
    up = Axis(range(2), "tilt", ["0 deg", "20 deg"])
    return value_map(
        across, up, RATIOS, "Max:min", WORDS, more="Hall: main, initial", by_factors=by_factors
    )


def brightness(figure):
    """Luminance weights on the codes of each cell's colour, row by row (IEC 61966-2-1)."""
    [mesh] = [one for one in figure.axes[0].collections if isinstance(one, QuadMesh)]
    return mesh.to_rgba(mesh.get_array())[..., :3].reshape(-1, 3) @ [0.2126, 0.7152, 0.0722]


def test_one_large_ratio_leaves_colours_for_the_others():
    plain, by_factors = brightness(drawn(False)), brightness(drawn(True))
    assert plain[1] - plain[0] < 0.02
    assert by_factors[1] - by_factors[0] > 0.05
    assert (np.diff(by_factors[[0, 1, 3, 4, 5]]) > 0.03).all()


def test_a_cell_s_words_stand_out_and_a_missing_one_has_none():
    figure = drawn(True)
    codes = brightness(figure)
    for text in figure.axes[0].texts:
        column, row = (round(x) for x in text.get_position())
        if text.get_text() == "–":
            assert np.isnan(RATIOS[row, column])
            continue
        assert text.get_text() == WORDS[row][column]
        ink = np.array(matplotlib.colors.to_rgb(text.get_color())) @ [0.2126, 0.7152, 0.0722]
        assert abs(ink - codes[3 * row + column]) > 0.35


def test_a_map_says_of_what_it_is_below_its_title():
    words = {text.get_text(): text.get_position()[1] for text in drawn(True).texts}
    assert words["Hall: main, initial"] == pytest.approx(0.897)
    assert words["Max:min"] > words["Hall: main, initial"] + 0.03
