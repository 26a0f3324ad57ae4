"""The command writes whole files, the same ones each time, and refuses names it doesn't know."""

from __future__ import annotations

import csv
import io
import json
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from typer.testing import CliRunner

from rigledger.charts.numbers import Column, as_csv, as_html, as_markdown
from rigledger.charts.source import Choice, open_source
from rigledger.charts.write import write_charts
from rigledger.cli import app
from rigledger.errors import StudyError
from rigledger.files import files_below

if TYPE_CHECKING:
    from rigledger.charts.source import Source

STUDY = Path(__file__).resolve().parents[2] / "datasets" / "link-width"
COLUMNS = (Column("title", "Title"), Column("change_pct", "Change", "change"))
ROWS = [{"title": "A|B <i>", "change_pct": -2.345678901234567}, {"title": "C", "change_pct": None}]


def test_the_numbers_to_paste_are_rounded_and_the_csv_is_not() -> None:
    assert as_csv(COLUMNS, ROWS) == "title,change_pct\nA|B <i>,-2.345678901234567\nC,\n"
    assert as_markdown("T", COLUMNS, ROWS) == (
        "**T**\n\n| Title | Change |\n| --- | ---: |\n| A\\|B <i> | −2.3 % |\n| C | – |\n"
    )
    assert "<td>A|B &lt;i&gt;</td>" in as_html("T", COLUMNS, ROWS)


@pytest.fixture(scope="module")
def written(few: Source, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the pictures in both looks."""
    folder = tmp_path_factory.mktemp("written")
    write_charts(few, folder, looks=("light", "dark"))
    return folder


@pytest.mark.slow
def test_two_runs_write_the_same_bytes_and_a_third_draws_nothing_anew(
    few: Source, written: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    files = write_charts(few, tmp_path, looks=("light", "dark"))
    assert sorted(path.name for path in files) == sorted(files_below(written))
    assert {n: (written / n).read_bytes() for n in files_below(written)} == {
        n: (tmp_path / n).read_bytes() for n in files_below(tmp_path)
    }
    monkeypatch.setattr("rigledger.charts.write.to_svg", lambda *_: pytest.fail("drawn again"))
    assert write_charts(few, tmp_path, looks=("light", "dark")) == files


@pytest.mark.slow
def test_a_picture_that_somebody_changed_is_drawn_anew(
    few: Source, written: Path, tmp_path: Path
) -> None:
    folder = shutil.copytree(written, tmp_path / "changed")
    png = next(path for path in sorted(folder.iterdir()) if path.suffix == ".png")
    held = png.read_bytes()
    png.write_bytes(b"not a picture")
    write_charts(few, folder, looks=("light", "dark"))
    assert png.read_bytes() == held


@pytest.mark.slow
def test_the_csv_under_a_picture_holds_the_tables_numbers(few: Source, written: Path) -> None:
    path = written / "factors.x8-against-x16.average_fps.kippereen-deep.csv"
    rows = csv.DictReader(io.StringIO(path.read_text(encoding="utf-8")))
    found = {(row["rig"], row["resolution"]): float(row["change_pct"]) for row in rows}
    held = few.con.execute(
        "SELECT rig, resolution, change_pct FROM comparisons WHERE current "
        "AND workload = 'kippereen-deep' AND contrast = 'x8-against-x16' "
        "AND metric = 'average_fps'"
    ).fetchall()
    assert {(rig, resolution): change for rig, resolution, change in held} == found


@pytest.mark.slow
@pytest.mark.parametrize(
    ("choice", "near"),
    [
        (Choice(title="kipperen-deep"), "kippereen-deep"),
        (Choice(metric="avrage_fps"), "average_fps"),
        (Choice(contrast="x8-against-x61"), "x8-against-x16"),
        (Choice(cells=(("bench.q3-59", "thrumgate-88", "1920x1080"),)), "bench.q3-52"),
    ],
)
def test_an_unknown_name_is_refused_with_the_nearest(choice: Choice, near: str) -> None:
    with pytest.raises(StudyError, match=near):
        open_source(STUDY, choice)


def test_a_folder_that_is_no_study_is_refused_and_nothing_written(tmp_path: Path) -> None:
    out = tmp_path / "out"
    result = CliRunner().invoke(app, ["charts", str(tmp_path), "--out", str(out)])
    assert (result.exit_code, out.exists()) == (2, False)


@pytest.mark.slow
def test_the_command_lists_the_files_it_wrote(tmp_path: Path) -> None:
    out = tmp_path / "out"
    given = ["charts", str(STUDY), "--out", str(out), "--json", "--metric", "average_fps"]
    cell = ["--title", "thrumgate-88", "--cell", "bench.q1-94,thrumgate-88,1920x1080"]
    result = CliRunner().invoke(app, [*given, *cell])
    assert result.exit_code == 0, result.output
    assert sorted(json.loads(result.output)["files"]) == files_below(out)
    assert "runs.thrumgate-88.1920x1080.bench.q1-94.average_fps.png" in files_below(out)
