"""A still beside the same scene computed at four times the vertices and samples."""

from reference.picture_error import difference


def test_a_flutes_picture_is_what_a_finer_computation_shows():
    # the roughest stones are farther off: python tests/reference/picture_error.py says by how much
    found = difference("fluted-plaster")
    assert found.pixels > 100_000
    assert found.mean <= 1.0  # CIEDE2000
    assert found.high <= 3.0
