"""A page of a scene: what it shows is what was computed, and all of it can be read."""

import io
import json

import numpy as np
import pypdfium2 as pdfium
import pytest
from click.testing import CliRunner
from PIL import Image

from rakelight.cli import main
from rakelight.picture.false_colour import Scale
from rakelight.tell.lettering import INK, PAPER, QUIET
from rakelight.tell.plates.page import quiet_axes
from rakelight.tell.plates.sheet import Chart, Sheet, set_sheet

SMALL = [
    "--set", "quality.mesh_step=20 mm", "--set", "quality.plane_step=200 mm",
    "--set", "picture.width=192", "--set", "picture.height=108",
]  # fmt: skip


def sheet(**more):
    rows, columns = 108, 192
    still = np.random.default_rng(3).integers(0, 256, (rows, columns, 3), np.uint8)
    stated = {
        "title": "A hall of 5 $ and 6 $",
        "sentence": "With the light 76 mm off the wall, it is brightest 2170 mm up. " * 2,
        "still": still,
        "illuminance_lx": np.full((rows, columns), 120.0),
        "scale": Scale(5.0, 5000.0, True),
        "unit": "lx",
        "charts": [
            Chart(lambda axes, how: axes.plot([0, 1]), 1.0, left_pt=20, title="One"),
            Chart(lambda axes, how: axes.plot([0, 1]), 2.0, title="Two"),
        ],
        "values": [("average on the wall's plane", "292 lx")] * 12,
        "runs": ["G1: narrow.ies, setback 76 mm, clear gap 42 mm to the highest point."] * 3,
        "caption": ["Illuminance in lx, initial."] * 8,
        "cautions": ["Verify with a mock-up."] * 8,
    }
    return Sheet(**{**stated, **more})


@pytest.mark.parametrize("portrait", [False, True])
@pytest.mark.parametrize("paper", ["a4", "tabloid"])
def test_the_still_is_on_the_page_pixel_for_pixel(portrait, paper):
    made = sheet()
    page, dpi = set_sheet(made, paper=paper, portrait=portrait)
    read = np.asarray(Image.open(io.BytesIO(page.bytes("png", dpi=dpi, title="t"))).convert("RGB"))
    rows, columns = made.still.shape[:2]
    # the page's pixels are whole parts of the still's: find the first row's colours again
    for times in range(1, 12):
        wanted = np.repeat(np.repeat(made.still[:2, :40], times, 0), times, 1)
        first = np.argwhere((read[:, :, :] == wanted[0, 0]).all(axis=2))
        for y, x in first:
            part = read[y : y + rows * times, x : x + columns * times]
            if part.shape != (rows * times, columns * times, 3):
                continue
            if (part[: wanted.shape[0], : wanted.shape[1]] == wanted).all():
                assert (part[::times, ::times] == made.still).all()
                return
    pytest.fail("the still is not on the page")


@pytest.mark.parametrize("portrait", [False, True])
def test_no_words_leave_the_page_or_lie_on_others(portrait):
    page, _ = set_sheet(sheet(), portrait=portrait)
    renderer = (
        page.figure.canvas.get_renderer() if hasattr(page.figure.canvas, "get_renderer") else None
    )
    boxes = [(t.get_text(), t.get_window_extent(renderer)) for t in page.figure.texts]
    width, height = page.figure.bbox.width, page.figure.bbox.height
    for said, box in boxes:
        assert min(box.x0, box.y0) > 0, said
        assert box.x1 < width, said
        assert box.y1 < height, said
    for i, (said, a) in enumerate(boxes):
        for other, b in boxes[i + 1 :]:
            apart = a.x1 <= b.x0 or b.x1 <= a.x0 or a.y1 <= b.y0 + 1 or b.y1 <= a.y0 + 1
            assert apart, (said, other)


def test_too_many_words_are_refused_not_set_over_the_charts():
    with pytest.raises(ValueError, match="larger paper"):
        set_sheet(sheet(caption=["Warning, run G1: mock it up."] * 150))


def contrast(one, other):
    # WCAG 2.1, relative luminance and contrast ratio
    def luminance(rgb):
        c = np.array(rgb) / 255
        linear = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
        return float(linear @ [0.2126, 0.7152, 0.0722])

    a, b = sorted((luminance(one), luminance(other)))
    return (b + 0.05) / (a + 0.05)


@pytest.mark.parametrize("colour", [INK, QUIET, (0xB8, 0x69, 0x0F)])
def test_type_stands_off_from_the_paper(colour):
    # WCAG 2.1 level AA: 4.5:1 for text, 3:1 for graphics
    assert contrast(colour, PAPER) >= (4.5 if colour in (INK, QUIET) else 3.0)


def test_a_plate_is_the_same_every_time_and_all_its_numbers_are_in_its_json(tmp_path):
    for folder in ("a", "b"):
        done = CliRunner().invoke(
            main,
            ["plate", "ticket-hall-graze", "--out", str(tmp_path / folder), *SMALL],
            catch_exceptions=False,
        )
        assert done.exit_code == 0, done.output
    stem = "ticket-hall-graze.plate"
    for kind in ("png", "pdf", "json"):
        one, other = ((tmp_path / f / f"{stem}.{kind}").read_bytes() for f in ("a", "b"))
        assert one == other, kind
    found = json.loads((tmp_path / "a" / f"{stem}.json").read_text())
    values = {n["key"]: n["value"] for n in found["numbers"]}
    shown = {row["words"]: row["value"] for row in found["shown"]}
    assert shown["average on the wall's plane"] == f"{values['main.flat.average_lx']:.0f} lx"
    assert shown["installed lumens"] == f"{values['main.lumens']:.0f} lm"
    pdf = (tmp_path / "a" / f"{stem}.pdf").read_bytes()
    assert b"CreationDate" not in pdf
    words = " ".join(pdfium.PdfDocument(pdf)[0].get_textpage().get_text_range().split())
    for said, value in shown.items():
        assert f"{said} {value}" in words


@pytest.mark.parametrize("portrait", [False, True])
def test_the_pdf_says_and_shows_what_the_png_does(portrait):
    def ramp(axes, how):
        axes.plot([0, 1])
        quiet_axes(axes, how.size_pt)

    charts = [Chart(ramp, 1.0, left_pt=20, title="One"), Chart(ramp, 2.0, title="Two")]
    made = sheet(still=np.full((108, 192, 3), 90, np.uint8), charts=charts)
    page, dpi = set_sheet(made, portrait=portrait)
    png = Image.open(io.BytesIO(page.bytes("png", dpi=dpi, title="t"))).convert("L")
    read = pdfium.PdfDocument(page.bytes("pdf", dpi=dpi, title="t"))
    assert len(read) == 1
    assert read[0].get_size() == pytest.approx((page.width_pt, page.height_pt), abs=0.01)

    wanted = {word for text in page.figure.texts for word in text.get_text().split()}
    assert len(wanted) > 30
    found = set(read[0].get_textpage().get_text_range().split())
    assert wanted - found == set()  # each word is a word, and can be searched and copied
    letters = [o for o in read[0].get_objects() if o.type == pdfium.raw.FPDF_PAGEOBJ_TEXT]
    assert len(letters) > 40
    for piece in letters:
        assert piece.get_font().is_embedded
        assert "SourceSansPro" in piece.get_font().get_base_name()

    # the same ink in the same places: squares of two millimetres, two drawers' edges apart
    drawn = read[0].render(scale=png.width / page.width_pt).to_pil().convert("L").resize(png.size)
    part = round(png.width / page.width_pt * 72 / 12.7)
    means = [
        np.asarray(p, float)[: p.height // part * part, : p.width // part * part]
        .reshape(p.height // part, part, -1, part)
        .mean(axis=(1, 3))
        for p in (png, drawn)
    ]
    inked = (means[0] < 245) | (means[1] < 245)
    assert inked.mean() > 0.2
    assert np.abs(means[0] - means[1])[inked].mean() < 4
    assert np.corrcoef(means[0][inked], means[1][inked])[0, 1] > 0.99
