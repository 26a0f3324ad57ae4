"""What the comparison of two runs of a benchmark says."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

COMPARE = Path(__file__).resolve().parents[2] / "ci" / "bench" / "compare.py"


def run_of(folder: Path, name: str, **figures: tuple[float, float | None]) -> Path:
    held: dict[str, Any] = {
        "benchmark": "release", "quick": True, "machine": {}, "versions": {"duckdb": name},
        "figures": [
            {
                "name": figure, "value": value, "unit": "x", "most": most, "note": "",
                "met": None if most is None else value <= most,
            }
            for figure, (value, most) in figures.items()
        ],
    }  # fmt: skip
    path = folder / f"{name}.json"
    path.write_text(json.dumps(held), encoding="utf-8")
    return path


def compare(*runs: Path) -> tuple[int, list[list[str]]]:
    done = subprocess.run(  # noqa: S603 - our own interpreter and script
        [sys.executable, str(COMPARE), *map(str, runs)],
        capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert not done.stderr
    return done.returncode, [line.split() for line in done.stdout.splitlines()]


def test_each_figure_is_shown_before_and_after_and_a_lost_bound_fails(tmp_path: Path) -> None:
    before = run_of(tmp_path, "a", cold=(2.0, 3.0), warm=(1.0, None), gone=(1, None), bad=(5, 4))
    after = run_of(tmp_path, "b", cold=(3.5, 3.0), warm=(0.5, None), new=(1, None), bad=(4.9, 4))
    code, lines = compare(before, after)
    assert code == 1
    assert lines == [
        ["note:", "another", "versions:", "{'duckdb':", "'a'}", "->", "{'duckdb':", "'b'}"],
        ["cold", "2.000", "->", "3.500", "x", "+75.0", "%", "more"],
        ["warm", "1.000", "->", "0.500", "x", "-50.0", "%", "less"],
        ["gone", "gone", "1.000", "x"],
        ["bad", "5.000", "->", "4.900", "x", "-2.0", "%", "as", "before"],
        ["new", "new", "1.000", "x"],
        ["no", "longer", "as", "asked:", "cold"],
    ]


def test_nothing_lost_is_no_failure(tmp_path: Path) -> None:
    before = run_of(tmp_path, "a", cold=(3.5, 3.0))
    assert compare(before, run_of(tmp_path, "b", cold=(2.0, 3.0)))[0] == 0
    assert compare(before, before)[0] == 0
