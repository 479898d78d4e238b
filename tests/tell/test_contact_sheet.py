"""The sheet: every picture on it as it was made, in its place, with its name below."""

import io

import numpy as np
import pytest
from PIL import Image

from rakelight.tell.contact_sheet import Tile, contact_sheet, sheet_bytes
from rakelight.tell.lettering import PAPER


def plain(code, rows=90, columns=120):
    picture = np.full((rows, columns, 3), code, np.uint8)
    picture[..., 2] = 0  # no blend of ink and paper has this colour
    return picture


def tiles(count):
    return [
        Tile(f"Relief {k}", "3 mm", (plain(20 + 9 * k), plain(140 + 9 * k))) for k in range(count)
    ]


def test_pictures_are_on_the_sheet_unscaled_in_reading_order():
    sheet = np.asarray(contact_sheet(tiles(7), "All", ("One exposure.",), across=3))
    places = []
    for k in range(7):
        for code in (20 + 9 * k, 140 + 9 * k):
            rows, columns = np.nonzero((sheet == [code, code, 0]).all(axis=-1))
            inner = (rows.max() - rows.min() + 1, columns.max() - columns.min() + 1)
            assert inner == (90, 120)
        places.append((rows.min(), columns.min()))
    assert places == sorted(places)
    assert len({row for row, _ in places}) == 3


def test_margins_are_paper_and_names_are_set_below():
    sheet = np.asarray(contact_sheet(tiles(2), "All", ("One exposure.",)))
    assert (sheet[:4] == PAPER).all()
    assert (sheet[:, :4] == PAPER).all()
    rows, columns = np.nonzero((sheet == [20, 20, 0]).all(axis=-1))
    below = sheet[rows.max() + 1 : rows.max() + 30, columns.min() : columns.max()]
    assert below.min() < 80  # ink


def test_no_reliefs_is_refused():
    with pytest.raises(ValueError, match="no reliefs"):
        contact_sheet([], "All", ())


@pytest.mark.parametrize(("ending", "kind"), [(".png", "PNG"), (".jpg", "JPEG")])
def test_files_are_the_same_twice(ending, kind):
    sheet = contact_sheet(tiles(3), "All", ("One exposure.",))
    first, second = sheet_bytes(sheet, ending), sheet_bytes(sheet, ending)
    assert first == second
    with Image.open(io.BytesIO(first)) as image:
        assert image.format == kind
        assert image.size == sheet.size
