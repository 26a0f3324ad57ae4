"""What readers.md says works, snippet by snippet, and all but its end with nothing of ours."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from typing import TYPE_CHECKING, Any

import duckdb
import pytest
from python_calamine import CalamineWorkbook

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.release.write import ReleaseResult

# Makes ``import rigledger`` fail, as it does for a reader who never heard of us.
WITHOUT_US = "import sys\nsys.modules['rigledger'] = None\n"


def snippets(folder: Path, kind: str) -> list[str]:
    text = (folder / "readers.md").read_text(encoding="utf-8")
    return re.findall(rf"```{kind}\n(.*?)```", text, re.DOTALL)


def run(folder: Path, code: str) -> str:
    done = subprocess.run(  # noqa: S603 - our own interpreter, code of our own template
        [sys.executable, "-W", "error", "-c", code],
        cwd=folder, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert (done.returncode, done.stderr) == (0, "")
    return done.stdout


def test_the_statements_run_in_plain_duckdb(
    published: ReleaseResult, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(published.folder)
    counted, compared = (
        duckdb.sql(text.strip().removesuffix(";")).fetchall()
        for text in snippets(published.folder, "sql")
    )
    assert len(counted) == 16
    assert {row[-1] for row in counted} == {3}
    assert len(compared) == 8
    assert {row[1] for row in compared[:4]} == {"Velmar 50"}
    assert {row[-2] for row in compared[:4]} == {"loss"}


def test_the_python_snippets_run_without_us_but_the_last(published: ReleaseResult) -> None:
    plain, pandas, polars, ours = snippets(published.folder, "python")
    assert run(published.folder, WITHOUT_US + plain) == "48 runs\n"
    assert "anna.cross  narrow    6" in run(published.folder, WITHOUT_US + pandas)
    assert "anna.cross ┆ narrow ┆ 6" in run(published.folder, WITHOUT_US + polars)
    expected = f"1.0.0 {published.fingerprint}\n16 rows\n"
    assert run(published.folder, ours) == expected


def test_the_r_snippet_names_every_text_column(published: ReleaseResult) -> None:
    """R itself runs it where it is installed."""
    (code,) = snippets(published.folder, "r")
    resources = json.loads((published.folder / "datapackage.json").read_bytes())["resources"]
    schema = next(item["schema"] for item in resources if item["name"] == "runs_wide")
    named = re.findall(r'"([a-z0-9_]+)"', code.splitlines()[0])
    assert named == [f["name"] for f in schema["fields"] if f["type"] == "string"]
    if program := shutil.which("Rscript"):
        done = subprocess.run(  # noqa: S603 - a program of the system
            [program, "-e", code], cwd=published.folder, capture_output=True, text=True, check=True
        )
        assert "anna.cross" in done.stdout


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("soffice") is None, reason="LibreOffice is not installed")
def test_the_spreadsheet_snippet_keeps_versions_as_text(
    published: ReleaseResult, tmp_path: Path
) -> None:
    """LibreOffice, in a profile of its own; read back by python-calamine."""
    command = next(text for text in snippets(published.folder, "sh") if text.startswith("soffice "))
    shutil.copytree(published.folder / "derived", tmp_path / "derived")
    home = f"soffice -env:UserInstallation=file://{tmp_path / 'profile'} "
    done = subprocess.run(  # noqa: S602 - the line as a reader would paste it into a shell
        command.strip().replace("soffice ", home, 1),
        shell=True, cwd=tmp_path, capture_output=True, check=False, timeout=120,
        env=os.environ | {"LC_ALL": "de_DE.UTF-8"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    sheet = CalamineWorkbook.from_path(tmp_path / "runs_wide.xlsx").get_sheet_by_index(0)
    header, first = sheet.to_python()[:2]
    row = dict(zip(header, first, strict=True))
    assert (row["driver_version"], row["title_build"]) == ("551.10", "1.4")
    assert isinstance(row["average_fps"], float)


def test_frictionless_alone_finds_a_valid_package(
    published: ReleaseResult, frictionless_said: dict[str, Any]
) -> None:
    assert "frictionless validate datapackage.json\n" in snippets(published.folder, "sh")
    assert (frictionless_said["code"], frictionless_said["valid"]) == (0, True)
    assert frictionless_said["stderr"] == ""
