"""What is drawn is what the tables hold: numbers are read back from the rendered SVG."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree as ET

import pytest

from rigledger.charts.look import DARK, HEIGHT, LIGHT, WIDTH
from rigledger.charts.render import to_png, to_svg
from rigledger.page.words import plain_number, signed_pct

if TYPE_CHECKING:
    from rigledger.charts.picture import Picture
    from rigledger.charts.source import Source

SVG = "{http://www.w3.org/2000/svg}"
KINDS = (
    "intervals.x8-against-x16.average_fps", "overall.x8-against-x16.average_fps.all",
    "factors.x8-against-x16.average_fps.kippereen-deep", "rates.thrumgate-88.1920x1080",
    "spread.average_fps",
)  # fmt: skip
Mark = tuple[str, float, float]


def rendered(picture: Picture) -> ET.Element:
    svg = to_svg(picture.canvas.spec(LIGHT), picture.title, picture.alt)
    return ET.fromstring(svg)  # noqa: S314 - our own SVG


def marks(root: ET.Element) -> list[Mark]:
    """Give label and place of every mark that says something."""
    found = []
    for path in root.iter(f"{SVG}path"):
        place = re.fullmatch(r"translate\(([-\d.]+),([-\d.]+)\)", path.get("transform", ""))
        if path.get("aria-roledescription") == "point" and path.get("aria-label") and place:
            found.append((path.get("aria-label", ""), float(place[1]), float(place[2])))
    return found


def ticks(root: ET.Element, *, of_y: bool) -> list[tuple[float, float]]:
    """Give value and place of the axis ticks: texts that are a number with a per cent sign."""
    found = []
    for text in root.iter(f"{SVG}text"):
        held = re.fullmatch(r"([+−]?\d+(?:\.\d+)?)[ \u00a0]%", text.text or "")
        place = re.fullmatch(r"translate\(([-\d.]+),([-\d.]+)\)", text.get("transform", ""))
        if held and place:
            # Text is set on its baseline, three tenths of its size below its middle.
            size = float(text.get("font-size", "0px").removesuffix("px"))
            at = float(place[2]) - 0.3 * size if of_y else float(place[1])
            found.append((float(held[1].replace("−", "-")), at))
    return found


def change_rows(source: Source, contrast: str, metric: str) -> list[tuple[str, float]]:
    return source.con.execute(
        "SELECT rig || '|' || workload || '|' || resolution, change_pct FROM comparisons "
        "WHERE current AND contrast = ? AND metric = ? AND change_pct IS NOT NULL",
        [contrast, metric],
    ).fetchall()


@pytest.mark.slow
def test_every_comparison_is_a_mark_that_says_the_tables_change(
    source: Source, drawn: dict[str, Picture]
) -> None:
    titles = {held.workload: held.title for held in source.design.workloads}
    said = sorted(label.split(" (")[0] for label, _, _ in marks(rendered(drawn[KINDS[0]])))
    expected = []
    for key, change in change_rows(source, "x8-against-x16", "average_fps"):
        rig, workload, resolution = key.split("|")
        expected.append(f"{titles[workload]}, {resolution}, {rig}: {signed_pct(change)}")
    assert sorted(expected) == said


@pytest.mark.slow
def test_a_mark_stands_where_its_number_belongs(source: Source, drawn: dict[str, Picture]) -> None:
    root = rendered(drawn[KINDS[2]])
    (low, first), (high, last) = (f(ticks(root, of_y=True)) for f in (min, max))
    changes = {
        (rig, resolution): change
        for rig, resolution, change in source.con.execute(
            "SELECT rig, resolution, change_pct FROM comparisons WHERE current "
            "AND workload = 'kippereen-deep' AND contrast = 'x8-against-x16' "
            "AND metric = 'average_fps'"
        ).fetchall()
    }
    found = {}
    for label, _, y in marks(root):
        _, resolution, rig = label.split(": ")[0].split(", ")
        found[rig, resolution] = low + (y - first) / (last - first) * (high - low)
    assert found == pytest.approx(changes, abs=0.01)


@pytest.mark.slow
def test_frame_rates_read_back_equal_the_cells(source: Source, drawn: dict[str, Picture]) -> None:
    rows = source.con.execute(
        "SELECT rig, level, metric, geometric_mean, unit FROM cells WHERE geometric_mean > 0 "
        "AND workload = 'thrumgate-88' AND resolution = '1920x1080'"
    ).fetchall()
    expected = sorted(
        f"{rig}, {level}, {metric}: {plain_number(mean)} {unit}"
        for rig, level, metric, mean, unit in rows
    )
    root = rendered(drawn[KINDS[3]])
    assert expected == sorted(label.split(" (")[0] for label, _, _ in marks(root))
    texts = {text.text for text in root.iter(f"{SVG}text")}
    assert {plain_number(row[3]) for row in rows} <= texts


@pytest.mark.slow
def test_means_over_titles_stand_by_resolution_where_they_belong(
    source: Source, drawn: dict[str, Picture]
) -> None:
    root = rendered(drawn["resolutions.x8-against-x16.average_fps.all"])
    (low, first), (high, last) = (f(ticks(root, of_y=True)) for f in (min, max))
    rows = source.con.execute(
        "SELECT rig, resolution, change_pct FROM overall WHERE contrast = 'x8-against-x16' "
        "AND metric = 'average_fps' AND title_set = 'all' AND change_pct IS NOT NULL"
    ).fetchall()
    found = {}
    for label, _, y in marks(root):
        rig, resolution, _ = label.split(": ")[0].split(", ")
        found[rig, resolution] = low + (y - first) / (last - first) * (high - low)
    assert found == pytest.approx({(rig, res): change for rig, res, change in rows}, abs=0.01)


def test_the_numbers_under_a_picture_are_its_rows(drawn: dict[str, Picture]) -> None:
    for picture in drawn.values():
        assert picture.rows
        assert all(column.name in row for column in picture.columns for row in picture.rows)


def test_all_kinds_of_pictures_are_drawn(drawn: dict[str, Picture]) -> None:
    kinds = {name.split(".", 1)[0] for name in drawn}
    assert kinds == {
        "intervals", "overall", "resolutions", "factors", "rates", "spread", "runs",
    }  # fmt: skip


def test_no_line_of_a_title_is_cut(drawn: dict[str, Picture]) -> None:
    cut = [
        text["text"] for picture in drawn.values() for text in picture.canvas.texts
        if text["text"].endswith(" …")
    ]  # fmt: skip
    assert cut == []


# Widths of Adobe's Helvetica in thousandths of the size (from memory); the drawn font has the same.
NARROW = dict.fromkeys("ijl", 222) | dict.fromkeys(" fItr.,:;/\u00a0", 278)
WIDE = dict.fromkeys("ckJsvxyz", 500) | {
    "m": 833,
    "w": 722,
    "M": 833,
    "W": 944,
    "%": 889,
    "…": 1000,
}
CAPITALS = dict.fromkeys("ABEKPSVXY", 667) | dict.fromkeys("CDHNRU", 722) | {"G": 778, "O": 778}
OTHERS = dict.fromkeys("FTZ", 611) | dict.fromkeys("+−±×", 584) | dict.fromkeys("()-“”", 333)
WIDTHS = NARROW | WIDE | CAPITALS | OTHERS
Box = tuple[float, float, float, float]


def text_boxes(picture: Picture) -> list[tuple[str, Box]]:
    """Give each text with the room it takes; bold letters are up to a tenth wider."""
    return [(item["text"], box(item)) for item in picture.canvas.texts]


def box(item: dict[str, Any]) -> Box:
    align, weight = item["style"]
    thousandths = sum(WIDTHS.get(letter, 556) for letter in item["text"])
    width = thousandths / 1000 * item["size"] * (1.07 if weight == "bold" else 1)
    left = item["x"] - width * {"left": 0, "center": 0.5, "right": 1}[align]
    half = 0.5 * item["size"]
    return left, item["y"] - half, left + width, item["y"] + half


def overlap(one: Box, other: Box) -> bool:
    return (
        min(one[2], other[2]) - max(one[0], other[0]) > 1
        and min(one[3], other[3]) - max(one[1], other[1]) > 6
    )


@pytest.mark.parametrize("kind", ["intervals", "overall", "factors", "rates", "spread", "runs"])
def test_no_text_is_clipped_or_lies_on_another(drawn: dict[str, Picture], kind: str) -> None:
    for name, picture in drawn.items():
        if name.startswith(kind):
            assert faults(picture) == [], name


def faults(picture: Picture) -> list[object]:
    boxes = text_boxes(picture)
    outside = [
        text for text, (x, y, x2, y2) in boxes if x < 0 or y < 0 or x2 > WIDTH or y2 > HEIGHT
    ]
    pairs = [
        (one, other)
        for number, (one, box) in enumerate(boxes)
        for other, other_box in boxes[:number]
        if overlap(box, other_box)
    ]
    return [*outside, *pairs]


def test_no_text_is_too_small_for_a_video(drawn: dict[str, Picture]) -> None:
    sizes = [text["size"] for picture in drawn.values() for text in picture.canvas.texts]
    assert min(sizes) >= 17


@pytest.mark.slow
def test_the_svg_names_and_describes_itself(drawn: dict[str, Picture]) -> None:
    picture = drawn[KINDS[2]]
    root = rendered(picture)
    held = {child.tag: child.text for child in root if child.get("id") in {"title", "desc"}}
    assert held == {f"{SVG}title": picture.title, f"{SVG}desc": picture.alt}
    assert root.get("aria-labelledby") == "title desc"


@pytest.mark.slow
def test_the_same_canvas_gives_the_same_bytes_in_1920_by_1080(drawn: dict[str, Picture]) -> None:
    picture = drawn[KINDS[2]]
    one, other = (to_svg(picture.canvas.spec(DARK), "t", "a") for _ in range(2))
    assert one == other
    png = to_png(one)
    assert png == to_png(other)
    assert (WIDTH, HEIGHT) == tuple(int.from_bytes(png[at : at + 4], "big") for at in (16, 20))


def test_a_specification_is_plain_json_without_addresses(drawn: dict[str, Picture]) -> None:
    spec = json.loads(drawn[KINDS[0]].canvas.spec(LIGHT))
    assert [key for key in spec if key == "data" and "url" in str(spec[key])] == []


@pytest.mark.parametrize("kind", KINDS)
def test_a_specification_keeps_the_renderers_grammar(drawn: dict[str, Picture], kind: str) -> None:
    import altair as alt

    spec = json.loads(drawn[kind].canvas.spec(LIGHT))
    drawn_parts = {layer["data"]["name"] for layer in spec["layer"]}
    assert alt.Chart.from_json(json.dumps(spec)).to_dict(validate=True)["layer"] == spec["layer"]
    assert {name for name, items in spec["datasets"].items() if items} == drawn_parts
