"""The section command from end to end: files, figures, refusals, the same bytes twice."""

import io
import itertools
import json
import math
import os
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import to_hex
from matplotlib.figure import Figure
from PIL import Image

from rakelight.build.scene import build_scene
from rakelight.cli import main
from rakelight.cli.scenes import located
from rakelight.measure.section_numbers import run_section, section_numbers
from rakelight.tell.section import draw_section
from rakelight.tell.section_detail import level_sizes
from rakelight.tell.section_parts import CURVE, Drawing, room_box
from rakelight.tell.section_sheet import say_scale, scale_for, section_sheet, sheet_bytes
from rakelight.units import say_length

SCENES = (
    "chapel-cove", "clinic-corridor", "hotel-bar", "reading-room", "ticket-hall-graze",
    "market-hall", "workshop", "brick-stair",
)  # fmt: skip


def invoke(*arguments):
    return CliRunner().invoke(main, ["section", *(str(a) for a in arguments)])


def sections(name, *overrides):
    scene = build_scene(located(name), overrides)
    lines = scene.room.lines()
    return scene, [run_section(scene.room, plan, lines[plan.line]) for plan in scene.runs]


def texts_px(figure):
    """Boxes of everything that is written on a sheet, as drawn."""
    canvas = figure.canvas
    if not isinstance(canvas, FigureCanvasAgg):
        canvas = FigureCanvasAgg(figure)
    renderer = canvas.get_renderer()
    every = [*figure.texts, *(t for axes in figure.axes for t in axes.texts)]
    return [(t.get_text(), t.get_window_extent(renderer)) for t in every if t.get_text()]


@pytest.mark.parametrize("name", SCENES)
def test_no_words_on_a_sheet_overlap_or_leave_it(name):
    scene, made = sections(name)
    for section in made:
        figure = section_sheet(scene, section)
        boxes = texts_px(figure)
        wide, tall = figure.get_size_inches() * figure.dpi
        for words, box in boxes:
            assert box.x0 >= 0, words
            assert box.y0 >= 0, words
            assert box.x1 <= wide, words
            assert box.y1 <= tall, words
        for (a, one), (b, other) in itertools.combinations(boxes, 2):
            over_x = min(one.x1, other.x1) - max(one.x0, other.x0)
            over_y = min(one.y1, other.y1) - max(one.y0, other.y0)
            # leading of lines may touch by a pixel or two
            assert not (over_x > 3 and over_y > 3), f"{section.plan.tag}: {a!r} over {b!r}"


def test_the_numbers_on_the_sheet_are_those_of_the_json(tmp_path):
    lip = "cove.1.lip=70 mm"
    done = invoke(
        "chapel-cove", "--run", "C1", "--out", tmp_path, "--format", "svg", "--json", "--set", lip
    )
    assert done.exit_code == 0
    document = json.loads(done.output)
    numbers = document["sections"][0]["numbers"]
    key = "run.C1.cutoff.cove-north.ceiling-far"
    scene, made = sections("chapel-cove", lip)
    assert numbers[f"{key}.at_m"]["value"] == pytest.approx(made[0].cut_offs[0].lands_m[0])
    words = [t for t, _ in texts_px(section_sheet(scene, made[0]))]
    at = numbers[f"{key}.at_m"]["value"]
    said = say_length(at, "m")
    assert said in words  # as a dimension over the roof
    assert any(f"{said} from the left" in w for w in words)
    assert (tmp_path / "chapel-cove.section.json").read_text() == json.dumps(
        {k: v for k, v in document.items() if k != "files"}, indent=1, ensure_ascii=False
    ) + "\n"
    for value in numbers.values():
        assert value["value"] is None or math.isfinite(value["value"])


def test_the_drawing_is_true_to_scale():
    scene, made = sections("hotel-bar")
    figure = section_sheet(scene, made[0])
    axes = figure.axes[0]
    (x0, x1), (y0, y1) = axes.get_xlim(), axes.get_ylim()
    place, inches = axes.get_position(), figure.get_size_inches()
    across = (x1 - x0) / (place.width * inches[0] * 0.0254)
    up = (y1 - y0) / (place.height * inches[1] * 0.0254)
    assert across == pytest.approx(20, rel=1e-6)
    assert up == pytest.approx(20, rel=1e-6)
    said = " ".join(t for t, _ in texts_px(figure))
    assert "1:20" in said
    # the fascia's lower edge stands in the picture where 2670 mm over the floor is
    picture = np.asarray(Image.open(io.BytesIO(sheet_bytes(figure, "png"))).convert("RGB"))
    px = picture.shape[1] / (inches[0] * 25.4)

    def at(out_m, up_m):
        x = (place.x0 * inches[0] * 25.4 + (out_m - x0) * 1000 / 20) * px
        y = (inches[1] * 25.4 * (1 - place.y0) - (up_m - y0) * 1000 / 20) * px
        return picture[round(y), round(x)].astype(int)

    board = at(0.2765, 2.89)
    assert abs(board - [0xC4, 0xBC, 0xAE]).max() < 60  # the board's own tone, or its outline
    assert at(2.0, 2.0).min() > 240  # air
    assert at(2.0, -0.03).max() < 235  # the floor's thickness


@pytest.mark.parametrize("name", ["clinic-corridor", "workshop", "chapel-cove"])
def test_the_candela_curve_stays_in_the_room(name):
    scene, made = sections(name)
    for section in made:
        axes = Figure(figsize=(11, 8)).add_axes((0, 0, 1, 1))
        draw_section(axes, Drawing(section, scene.room, "m"))
        curve = next(
            p.get_xy() for p in axes.patches if to_hex(p.get_facecolor()) == CURVE
        )  # fmt: skip
        low_x, high_x, low_y, high_y = room_box(section)
        assert low_x < curve[:, 0].min()
        assert curve[:, 0].max() < high_x
        assert low_y < curve[:, 1].min()
        assert curve[:, 1].max() < high_y


def test_a_detail_gives_the_place_of_what_hides_the_run():
    # as the scene files state them; a cove's lip stands beyond its ledge, by its own thickness
    for name, what, at_m in (
        ("hotel-bar", "to the fascia", 0.27), ("clinic-corridor", "to the panel", 0.45),
        ("chapel-cove", "cove", 0.212),
    ):  # fmt: skip
        scene, made = sections(name)
        rows = {row[0]: row[2] for row in level_sizes(Drawing(made[0], scene.room, "m"))}
        assert rows[what] == pytest.approx(at_m, abs=1e-6), name
        assert rows["setback"] == pytest.approx(scene.runs[0].setback_m, abs=1e-6)


def test_a_pendant_hangs_from_the_ceiling_and_its_height_is_given():
    scene, made = sections("workshop")
    pendant = made[0]
    axes = Figure(figsize=(11, 8)).add_axes((0, 0, 1, 1))
    draw_section(axes, Drawing(pendant, scene.room, "ft"))
    x, top = pendant.cut.source_m[0], 13 * 0.3048
    ends = [line.get_xydata() for line in axes.lines]
    hangs = [e for e in ends if len(e) == 2 and abs(e[0, 0] - e[1, 0]) < 1e-9
             and e[1, 1] == pytest.approx(top) and abs(e[0, 0] - x) < 0.1]  # fmt: skip
    assert len(hangs) == 1
    words = [t.get_text() for t in axes.texts]
    assert {"10 ft", "3 ft", "13 ft"} <= set(words)


def test_scales_are_usual_ones():
    assert [scale_for(n, "mm") for n in (0.3, 3.0, 18.0, 20.0, 41.0)] == [1, 5, 20, 20, 50]
    assert [say_scale(s, "ft") for s in (12, 24, 48, 96)] == [
        "1 in = 1 ft", "1/2 in = 1 ft", "1/4 in = 1 ft", "1/8 in = 1 ft",
    ]  # fmt: skip
    assert say_scale(2.5, "m") == "1:2.5"


def test_a_plate_can_hold_the_drawing():
    scene, made = sections("hotel-bar")
    figure = Figure(figsize=(6, 4))
    axes = figure.add_axes((0.1, 0.1, 0.8, 0.8))
    pen = draw_section(axes, Drawing(made[0], scene.room, scene.length_unit), text_pt=6)
    (x0, x1), (y0, y1) = axes.get_xlim(), axes.get_ylim()
    assert (x1 - x0) / 4.8 == pytest.approx((y1 - y0) / 3.2)  # one scale
    assert x0 < 0 < 4.2 < x1
    assert pen.mm == pytest.approx((x1 - x0) / (0.8 * 6 * 25.4))


def test_bytes_are_the_same_in_another_process_and_folder(tmp_path):
    here = tmp_path / "here"
    assert invoke("reading-room", "--out", here).exit_code == 0
    other = tmp_path / "other place"
    other.mkdir()
    subprocess.run(
        [sys.executable, "-m", "rakelight", "section", "reading-room"],
        cwd=other, check=True, capture_output=True, env={**os.environ, "PYTHONHASHSEED": "11"},
    )  # fmt: skip
    names = sorted(p.name for p in here.iterdir())
    assert names == [
        "reading-room.G1.section.pdf", "reading-room.G1.section.png",
        "reading-room.G1.section.svg", "reading-room.section.json",
    ]  # fmt: skip
    for name in names:
        assert (here / name).read_bytes() == (other / name).read_bytes(), name
    svg = (here / "reading-room.G1.section.svg").read_text()
    assert "<text" not in svg  # letters are outlines: no face is needed to read it
    assert not re.search(r"20\d\d-\d\d-\d\d", svg)
    pdf = (here / "reading-room.G1.section.pdf").read_bytes()
    assert b"SourceSans" in pdf
    assert b"/FontFile2" in pdf  # the face goes along
    assert b"CreationDate" not in pdf


@pytest.mark.parametrize(
    ("arguments", "line"),
    [
        (("hotel-bar", "--run", "X9"), "--run X9: hotel-bar has no such run; it has G1."),
        (("ticket-hall",), "ticket-hall: has no [[run]] to cut through. Add one."),
        (("hotel-bar", "--format", "gif"), "--format gif: must be of svg, png, pdf."),
        (("hotel-bar", "--at", "9 m"), "--at 9 m: 9.0 m is not on run G1"),
        (("hotel-bar", "--at", "soon"), "--at soon:"),
    ],
)
def test_what_cannot_be_cut_is_said_in_one_line(arguments, line, tmp_path):
    done = invoke(*arguments, "--out", tmp_path)
    assert done.exit_code == 2
    assert done.stderr.startswith(line)
    assert done.stderr.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_check_warns_of_what_a_section_shows(tmp_path):
    bar = Path(located("hotel-bar")).read_text(encoding="utf-8")
    assert "[[eye]]" in bar
    # the eyes that it states are the ones that count, and they see nothing
    assert "sees the opening past" not in CliRunner().invoke(main, ["check", "hotel-bar"]).output
    anyone = tmp_path / "anyone.toml"
    anyone.write_text(re.sub(r"\[\[eye\]\]\n(?:.+\n)+", "", bar))
    done = CliRunner().invoke(main, ["check", str(anyone)])
    found = re.search(r"sees the opening past fascia F1, 600 mm to (\d+) mm", done.output)
    _, made = sections("hotel-bar")
    numbers = {n.key: n.value for n in section_numbers(made[0])}
    assert int(found[1]) == round(numbers["run.G1.sight.1200.seen_to_m"] * 1000)
    # similar triangles: the 22 mm opening's far side at (109, 2840), the knife edge at (270, 2670)
    reach = 0.27 + 0.161 * (2.67 - 1.2) / 0.17
    assert numbers["run.G1.sight.1200.seen_to_m"] == pytest.approx(reach, abs=1e-4)
