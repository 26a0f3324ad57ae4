"""study.toml is read whole, and every slip in it is named with its place."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from rigledger.errors import StudyError
from rigledger.study.design import PlannedCell, PlannedRig, TitleSet, read_design
from rigledger.study.design_rows import design_rows
from rigledger.study.layout import StudyFolder, open_study
from rigledger.study.model import Contrast, Design, PlausibleRange, Relation, Times, Workload

if TYPE_CHECKING:
    from rigledger.contract import Contract

Write = Callable[..., Path]


def test_what_is_left_out_has_its_usual_value(design: Design) -> None:
    assert design.times == Times(25, 4, 1.5, 0.5, 8)
    assert design.contrasts == (Contrast("x8-against-x16", "x16", "x8"),)
    assert design.title_sets == (TitleSet("all", ("harbour-dawn", "salt-road")),)
    assert [(level.rank, level.may_vary, level.also_changes) for level in design.levels] == [
        (1, False, "nothing"),
        (2, False, "nothing"),
    ]


def test_a_workload_carries_the_metrics_it_requires_and_what_is_plausible(design: Design) -> None:
    assert design.workload("salt-road") == Workload(
        workload="salt-road",
        title="Salt Road",
        kind="game",
        preset="high",
        graphics_api="Vulkan 1.3",
        passage="the first dune",
        passage_start_s=None,
        passage_length_s=30.0,
        render_scale_pct=100.0,
        frame_generation="off",
        frame_cap_fps=None,
        setting_can_act=True,
        metrics=("average_fps", "low_1pct_rank_fps"),
        launch_min=2.5,
    )
    assert design.plausible_ranges == (
        PlausibleRange("harbour-dawn", "1920x1080", "average_fps", 20.0, 400.0),
    )


def test_planned_cells_follow_the_card_and_leave_sentinels_out(design: Design) -> None:
    rigs = [PlannedRig("a", "p1", "slow"), PlannedRig("b", "p1", "fast")]
    cells = design.planned_cells(rigs)
    assert cells[:4] == [
        PlannedCell("a", "harbour-dawn", "1920x1080", "x16"),
        PlannedCell("a", "harbour-dawn", "1920x1080", "x8"),
        PlannedCell("a", "salt-road", "1920x1080", "x16"),
        PlannedCell("a", "salt-road", "1920x1080", "x8"),
    ]
    assert len(cells) == 4 + 8


def test_a_plan_by_class_finds_a_card_that_the_study_does_not_list(write_study: Write) -> None:
    path = write_study(('cards = ["slow"]', 'card_classes = ["handheld"]'))
    rig = PlannedRig("pocket", "p1", "unheard-of", card_class="handheld")
    assert len(read_design(path).planned_cells([rig])) == 4


def test_overlapping_parts_of_the_plan_ask_for_a_cell_once(write_study: Write) -> None:
    path = write_study(('cards = ["slow"]\n', ""))
    assert len(read_design(path).planned_cells([PlannedRig("a", "p1", "fast")])) == 8


def test_rows_have_the_contracts_columns_in_order_of_their_key(
    design: Design, contract: Contract
) -> None:
    rows = design_rows(design, contract)
    assert rows["cards"] == [
        {"card": "fast", "model": "Velmar 90", "class": "card", "memory_gb": 16.0},
        {"card": "slow", "model": "Velmar 30", "class": "card", "memory_gb": 6.0},
    ]
    for name, held in rows.items():
        assert {tuple(row) for row in held} <= {contract.table("source", name).field_names}
    assert [row["metric"] for row in rows["metrics"]] == sorted(contract.metrics)


@pytest.mark.parametrize(
    ("old", "new", "key", "said"),
    [
        ("runs_required = 3", "runs_requird = 3", "study.runs_requird", "did you mean 'runs_re"),
        ("runs_required = 3", "", "study.runs_required", "is required"),
        ("runs_required = 3", 'runs_required = "3"', "study.runs_required", "must be an integer"),
        ("runs_required = 3", "runs_required = true", "study.runs_required", "must be an integer"),
        ("runs_required = 3", "runs_required = 0", "study.runs_required", "below the smallest"),
        ("change_pct = 3", "change_pct = nan", "study.material_change_pct", "finite"),
        ("change_pct = 3", "change_pct = inf", "study.material_change_pct", "finite"),
        ('["average_fps"', '["averge_fps"', "study.metrics", "did you mean 'average_fps'"),
        ('["average_fps", "low_1pct_rank_fps"]', "[]", "study.metrics", "at least one value"),
        ('"CC-BY-4.0"', '"CC-BY-5.0"', "study.licence", "did you mean 'CC-BY-4.0'"),
        ('study = "link-width"', 'study = "Link Width"', "study.study", "pattern"),
        ('title = "Link width"', 'title = "  "', "study.title", "blank"),
        ("baseline = true", "", "levels", "exactly one level"),
        ("[[levels]]", "[[level]]", "level", "did you mean 'levels'"),
        ('level = "x8"', 'level = "x16"', "levels[2].level", "already used by levels[1]"),
        ('class = "card"', 'class = "crad"', "cards[1].class", "did you mean 'card'"),
        ("memory_gb = 16", "memory_gb = -1", "cards[1].memory_gb", "below"),
        ("_s = 60", "_s = 60\nlenght = 1", "workloads[1].lenght", "unknown key"),
        ('"1920x1080".average', '"1080p".average', "workloads[1].plausible.1080p", "pattern"),
        ("[20, 400]", "[400, 20]", "workloads[1].plausible.1920x1080.average_fps", "below the m"),
        ("[20, 400]", "[20]", "workloads[1].plausible.1920x1080.average_fps", "two numbers"),
        ('cards = ["fast"]', 'cards = ["fats"]', "plan[1].cards", "did you mean 'fast'"),
        ('cards = ["fast"]', 'cards = "fast"', "plan[1].cards", "must be a list"),
        ('cards = ["fast"]', 'cards = ["fast", "fast"]', "plan[1].cards", "twice"),
        ('cards = ["fast"]', 'levels = ["x4"]', "plan[1].levels", "no level 'x4'"),
        ('workload = "sentinel-loop"\nres', 'workload = "salt-road"\nres', "sentinels[1].workload",
         "can't act"),
    ],
)  # fmt: skip
def test_a_slip_is_refused_at_its_key(
    write_study: Write, old: str, new: str, key: str, said: str
) -> None:
    path = write_study((old, new))
    with pytest.raises(StudyError) as raised:
        read_design(path)
    assert (raised.value.file, raised.value.column) == ("study.toml", key)
    assert said in str(raised.value)


RELATION = """[[relations]]
contributor = "cora"
counts_with = "{}"
declared_by = "bench"
reason = "one household"
declared_on = 2026-11-20

"""


def test_a_relation_between_two_names_says_who_declared_it_why_and_when(write_study: Write) -> None:
    design = read_design(write_study(("[[plan]]", RELATION.format("anna") + "[[plan]]")))
    assert design.relations == (
        Relation("cora", "anna", "bench", "one household", dt.date(2026, 11, 20)),
    )


@pytest.mark.parametrize(
    ("text", "key", "said"),
    [
        (RELATION.format("cora"), "relations[1].counts_with", "counts with itself"),
        (RELATION.format("anna") * 2, "relations[2].counts_with", "already declared"),
        (RELATION.format("Anna"), "relations[1].counts_with", "pattern"),
    ],
)
def test_a_slip_in_a_relation_is_refused_at_its_key(
    write_study: Write, text: str, key: str, said: str
) -> None:
    with pytest.raises(StudyError, match=said) as raised:
        read_design(write_study(("[[plan]]", text + "[[plan]]")))
    assert raised.value.column == key


def test_a_contrast_names_two_different_known_levels(write_study: Write) -> None:
    contrast = '[[contrasts]]\ncontrast = "c"\nfrom_level = "x16"\nto_level = "{}"\n\n[[plan]]'
    for to_level, said in (("x4", "no level 'x4'"), ("x16", "two different levels")):
        path = write_study(("[[plan]]", contrast.format(to_level)))
        with pytest.raises(StudyError, match=said):
            read_design(path)


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"[study\n", "not valid TOML"),
        (b"title = '\xff'", "not UTF-8"),
        (b"", r"\[study\] is missing"),
    ],
)
def test_a_file_that_is_no_study_says_what_it_is(tmp_path: Path, data: bytes, said: str) -> None:
    path = tmp_path / "study.toml"
    path.write_bytes(data)
    with pytest.raises(StudyError, match=said):
        read_design(path)


def test_a_study_is_opened_by_folder_or_file_and_nothing_else(
    study: StudyFolder, tmp_path: Path
) -> None:
    assert open_study(study.root) == open_study(study.toml) == study
    with pytest.raises(StudyError, match=r"holds no study\.toml"):
        open_study(tmp_path / "elsewhere")


def test_a_byte_order_mark_is_no_obstacle(study: StudyFolder, design: Design) -> None:
    study.toml.write_bytes(b"\xef\xbb\xbf" + study.toml.read_bytes())
    assert read_design(study.toml) == design
