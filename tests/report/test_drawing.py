"""Drawings: placing, labels that never overlap, safe SVG."""

import base64
import io
import itertools
import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from overlay.report.drawing import Area, Drawing, Label, Line, Picture, Tag, leader_marks, placing_into
from overlay.report.frame_map import frame_map
from overlay.report.palette import LOOKS, SCALES, rgb, scale_colors, steps_of
from overlay.report.svg import escaped, svg_text

tags = st.lists(
    st.builds(
        Tag, st.text("RCU0123456789", min_size=1, max_size=9), st.floats(60, 140), st.floats(5, 115), st.floats(0, 9)
    ),
    max_size=120,
)


@given(tags)
def test_leader_labels_neither_overlap_nor_leave_the_sheet(wanted: list[Tag]) -> None:
    marks = leader_marks(wanted, (60, 5, 140, 115), (200, 120), 2.4)
    labels = [mark for mark in marks if isinstance(mark, Label)]
    for label in labels:
        assert 0 <= label.y_mm <= 120 - label.size_mm * 0.6
    for anchor in ("start", "end"):
        column = sorted(label.y_mm for label in labels if label.anchor == anchor)
        assert all(high - low >= 2.4 for low, high in itertools.pairwise(column))


@given(tags)
def test_each_label_has_a_leader_to_its_own_place(wanted: list[Tag]) -> None:
    marks = leader_marks(wanted, (60, 5, 140, 115), (200, 120), 2.4)
    lines = [mark for mark in marks if isinstance(mark, Line)]
    assert len(lines) == len([mark for mark in marks if isinstance(mark, Label)])
    places = {(tag.x_mm, tag.y_mm) for tag in wanted}
    assert all(tuple(line.points[0]) in places for line in lines)


def test_where_there_is_no_room_what_matters_least_is_left_out() -> None:
    wanted = [Tag(f"R{i}", 100.0, 60.0, float(i)) for i in range(300)]
    texts = {mark.text for mark in leader_marks(wanted, (60, 5, 140, 115), (200, 120)) if isinstance(mark, Label)}
    assert 20 < len(texts) < 300
    assert texts == {f"R{i}" for i in range(300 - len(texts), 300)}


def test_a_map_takes_the_largest_plain_scale_that_fits() -> None:
    placing = placing_into((0, 0, 96, 64), 126, 120, scales=(0.5, 1.0, 1.5, 2.0))
    assert placing.scale == 1.0
    assert placing.points([(48, 32)])[0] == pytest.approx([63, 60])


def test_a_flipped_placing_mirrors_about_the_sheet_s_middle() -> None:
    placing = placing_into((0, 0, 100, 50), 100, 50, flip_x=True)
    assert placing.points([(10, 20)])[0] == pytest.approx([90, 20])


def test_verdicts_keep_apart_in_grey_print_or_by_their_hatch() -> None:
    grey = {verdict: float(np.dot(rgb(look.fill), [0.3, 0.59, 0.11])) for verdict, look in LOOKS.items()}
    for one, other in itertools.combinations(LOOKS, 2):
        cues = (LOOKS[one].hatch, LOOKS[one].dashed) != (LOOKS[other].hatch, LOOKS[other].dashed)
        assert cues or abs(grey[one] - grey[other]) > 0.1


@pytest.mark.parametrize("name", SCALES)
def test_temperature_scales_grow_lighter_all_the_way(name: str) -> None:
    lightness = scale_colors(name).astype(float) @ [0.2126, 0.7152, 0.0722]
    assert np.all(np.diff(lightness) >= -0.6)
    assert lightness[-1] - lightness[0] > 150


def test_a_frame_s_ends_take_the_ends_of_the_scale() -> None:
    assert steps_of(np.array([[10.0, 20.0, 99.0, -5.0, np.nan]]), 10.0, 20.0).tolist() == [[0, 255, 255, 0, 0]]


@given(st.text(max_size=40))
def test_any_text_is_safe_in_a_drawing(text: str) -> None:
    square = np.array([[0.0, 0], [1, 0], [1, 1]])
    marks = (Area((square,), "#ffffff", part=text, title=text), Label(text, 1, 1, 2, "#1d1d1b", part=text))
    root = ElementTree.fromstring(svg_text(Drawing(10, 10, marks, text), "x"))
    names = {element.tag.split("}")[1] for element in root.iter()}
    assert names <= {"svg", "title", "path", "text"}


def test_markup_in_a_designator_stays_text() -> None:
    assert escaped("<script>'\"&") == "&lt;script&gt;&#39;&quot;&amp;"


def test_a_picture_is_embedded_upright_and_pixelated() -> None:
    picture = Picture(np.array([[0, 1, 2], [2, 1, 0]], np.uint8), scale_colors()[:3], 1, 2, 3, 4)
    text = svg_text(Drawing(20, 20, (picture,)), "x")
    assert 'x="1.00" y="14.00" width="3.00" height="4.00"' in text
    embedded = re.search(r"data:image/png;base64,([^\"]+)", text)
    assert embedded is not None
    pixels = np.asarray(Image.open(io.BytesIO(base64.b64decode(embedded[1]))).convert("RGB"))
    assert np.array_equal(pixels, scale_colors()[picture.numbers])


def test_leaders_go_between_parts_and_not_across_them() -> None:
    random = np.random.default_rng(4)
    boxes, wanted = [], []
    for i in range(7):
        for j in range(6):
            x, y = 64.0 + 11 * i + random.uniform(-1, 1), 12.0 + 18 * j + random.uniform(-2, 2)
            boxes.append(np.array([[x - 4, y - 6], [x + 4, y - 6], [x + 4, y + 6], [x - 4, y + 6]]))
            wanted.append(Tag(f"U{len(boxes)}", x, y, 1.0, f"U{len(boxes)}"))
    around = {tag.part: box for tag, box in zip(wanted, boxes, strict=True)}
    marks = leader_marks(wanted, (56, 2, 144, 118), (200, 120), around=around)
    lines = [mark for mark in marks if isinstance(mark, Line)]
    assert len(lines) == len(boxes)
    crossed = 0
    for line in lines:
        path = shapely.LineString(line.points)
        others = [box for box, tag in zip(boxes, wanted, strict=True) if tag.part != line.part]
        crossed += any(path.intersection(shapely.Polygon(box).buffer(-0.4)).length > 0.0 for box in others)
    assert crossed == 0
    straight = [
        any(
            shapely.LineString([line.points[0], line.points[-1]]).intersects(shapely.Polygon(box))
            for box, tag in zip(boxes, wanted, strict=True)
            if tag.part != line.part
        )
        for line in lines
    ]
    assert sum(straight) > 20  # as the crow flies most would
    paths = [shapely.LineString(line.points[:-1]) for line in lines]
    together = sum(one.buffer(0.2).intersection(other).length > 5.0 for one, other in itertools.combinations(paths, 2))
    assert together <= 0.02 * len(paths) * (len(paths) - 1) / 2


def test_two_leaders_through_one_gap_stay_apart() -> None:
    walls = {
        "A": np.array([[60.0, 0], [64, 0], [64, 55], [60, 55]]),
        "B": np.array([[60.0, 65], [64, 65], [64, 120], [60, 120]]),
    }
    wanted = [Tag("R1", 80.0, 59.0, 1.0, "R1"), Tag("R2", 80.0, 61.0, 1.0, "R2")]
    lines = [
        mark for mark in leader_marks(wanted, (56, 2, 200, 118), (220, 120), around=walls) if isinstance(mark, Line)
    ]
    one, other = (shapely.LineString(line.points) for line in lines)
    assert one.distance(other) > 0.7
    assert all(
        shapely.LineString(line.points).distance(shapely.Polygon(wall)) > 0.0
        for line in lines
        for wall in walls.values()
    )


def test_a_line_starts_at_the_edge_of_a_body_that_bears_its_name() -> None:
    body = np.array([[95.0, 55], [105, 55], [105, 65], [95, 65]])
    (line,) = (
        m
        for m in leader_marks([Tag("U1", 100.0, 60.0, 1.0, "U1")], (56, 2, 144, 118), (200, 120), around={"U1": body})
        if isinstance(m, Line)
    )
    assert shapely.Polygon(body).exterior.distance(shapely.Point(line.points[0])) < 1e-6


def test_a_scale_says_how_far_the_frame_goes_beyond_it(demo) -> None:
    capture = demo.capture("full load")
    hot = capture.view.apparent_c.copy()
    hot[5, 5] = 300.0
    beyond = replace(capture, view=replace(capture.view, apparent_c=hot))
    labels = [mark.text for mark in frame_map(beyond, [], 180.0, 130.0).marks if isinstance(mark, Label)]
    assert "up to 300" in labels
    assert any(text.startswith("≥ ") for text in labels)
