"""Every benchmark takes the same options and keeps its figures in the one form that is compared."""

from __future__ import annotations

import ast
import importlib.util
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

BENCH = Path(__file__).resolve().parents[2] / "ci" / "bench"
# It reads the figures of two runs and measures nothing.
COMPARE = BENCH / "compare.py"
RUNNABLE = [
    path
    for path in sorted(BENCH.glob("*.py"))
    if path != COMPARE and '__name__ == "__main__"' in path.read_text(encoding="utf-8")
]


def module(name: str) -> Any:  # noqa: ANN401 - a module of ci/bench
    spec = importlib.util.spec_from_file_location(f"bench_{name}", BENCH / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = made  # dataclasses look for their own module
    spec.loader.exec_module(made)
    return made


RESULTS, COMPARING = module("results"), module("compare")


def calls(path: Path) -> Iterator[str]:
    """Names of what a file calls: of a function, or of a method without its object."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Call):
            yield node.func.attr if isinstance(node.func, ast.Attribute) else ast.unparse(node.func)


def from_results(path: Path) -> set[str]:
    """Names that a file imports from the module of results."""
    tree = ast.walk(ast.parse(path.read_text(encoding="utf-8")))
    return {
        alias.name
        for node in tree
        if isinstance(node, ast.ImportFrom) and node.module == "results"
        for alias in node.names
    }


def keeps(path: Path) -> bool:
    """Whether a file hands the file that was asked for to the results, as one of its steps."""
    ends = [
        node
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Return) and isinstance(node.value, ast.Call)
        and isinstance(node.value.func, ast.Attribute) and node.value.func.attr in {"end", "close"}
        and [ast.unparse(one).rpartition(".")[2] for one in node.value.args] == ["json"]
    ]  # fmt: skip
    return len(ends) == 1


def test_there_are_benchmarks() -> None:
    assert {"agreement", "captures", "intake", "release", "spark"} < {p.stem for p in RUNNABLE}
    assert len(RUNNABLE) >= 16


@pytest.mark.parametrize("path", RUNNABLE, ids=lambda path: path.stem)
def test_a_benchmark_reads_the_shared_options_and_keeps_its_figures(path: Path) -> None:
    assert from_results(path) & {"asked", "options"} & set(calls(path))
    assert "Results" in from_results(path) & set(calls(path))
    assert keeps(path)
    assert "ArgumentParser" not in set(calls(path))


def test_the_shared_options_are_quick_and_json(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sys, "argv", ["bench", "--quick", "--json", "kept.json"])
    assert RESULTS.asked("It shows.", "less") == RESULTS.Asked(quick=True, json=Path("kept.json"))
    monkeypatch.setattr(sys, "argv", ["bench"])
    assert RESULTS.asked("It shows.", "less") == RESULTS.Asked(quick=False, json=None)


def test_a_figure_is_kept_with_its_bounds_and_whether_they_were_met(tmp_path: Path) -> None:
    results = RESULTS.Results("spread", quick=True)
    assert results.keep(RESULTS.Figure("covered", 0.93, "share", 0.96, "Welch 0.9", 0.94, 0.02))
    assert not results.keep(RESULTS.Figure("time", 2.5, "s", 2.0))
    assert not results.keep(RESULTS.Figure("found", 0.0, "yes", least=1))
    results.report("x", {"beside": 3.0})
    assert results.short == ["time", "found"]
    assert results.close(tmp_path / "kept.json") == 1
    held = json.loads((tmp_path / "kept.json").read_text(encoding="utf-8"))
    assert (held["benchmark"], held["quick"]) == ("spread", True)
    names = ("name", "value", "unit", "most", "note", "least", "room", "met")
    assert [tuple(figure[name] for name in names) for figure in held["figures"]] == [
        ("covered", 0.93, "share", 0.96, "Welch 0.9", 0.94, 0.02, True),
        ("time", 2.5, "s", 2.0, "", None, 0.0, False),
        ("found", 0.0, "yes", None, "", 1, 0.0, False),
        ("beside", 3.0, "x", None, "", None, 0.0, None),
    ]


def test_two_figures_of_one_name_are_refused_for_they_could_not_be_compared() -> None:
    results = RESULTS.Results("spread", quick=True)
    results.keep(RESULTS.Figure("time", 1.0, "s"))
    with pytest.raises(ValueError, match="two figures are called 'time'"):
        results.keep(RESULTS.Figure("time", 2.0, "s"))


def kept(path: Path, covered: float, seconds: float) -> dict[str, Any]:
    results = RESULTS.Results("spread", quick=False)
    results.keep(RESULTS.Figure("covered", covered, "share", least=0.94))
    results.keep(RESULTS.Figure("time", seconds, "s", 4.0))
    results.keep(RESULTS.Figure("missed", 0.0, "count", 0))
    results.close(path)
    held: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return held


def test_two_files_of_results_are_told_apart(tmp_path: Path) -> None:
    before, after = kept(tmp_path / "a", 0.951, 3.0), kept(tmp_path / "b", 0.932, 3.2)
    assert COMPARING.differing(before, after) == []
    lines, lost = COMPARING.compared(before, after)
    assert [line.split() for line in lines] == [
        ["covered", "0.951", "->", "0.932", "share", "-2.0", "%", "less"],
        ["time", "3.000", "->", "3.200", "s", "+6.7", "%", "as", "before"],
        ["missed", "0.000", "->", "0.000", "count", "+0.000", "as", "before"],
    ]
    assert lost == ["covered"]
    assert COMPARING.compared(after, before)[1] == []
