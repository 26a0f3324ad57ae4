"""Builds the hostile corpus: each case is a set made by code, with the finding it must come to."""

from __future__ import annotations

import importlib.util
import json
import os
import subprocess
import sys
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import Any

import pytest

from rigledger.files import sha256sums

HERE = Path(__file__).parent
CHECKER = """
import json, sys, tempfile
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from rigledger.intake.confine import confine
from rigledger.intake.check import check_set
asked = json.loads(sys.stdin.read())
confine(Path(tempfile.gettempdir()))
def found(path):
    result = check_set(Path(path), Path(asked["study"]))
    return [
        [f.rule, f.row, f.column, bool(f.reason and f.next_step)] for f in result.findings
    ]
with ThreadPoolExecutor(2) as pool:
    answer = dict(zip(asked["sets"], pool.map(found, asked["sets"].values())))
try:
    import resource
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024
except ImportError:
    peak = 0
print(json.dumps({"rules": answer, "peak_mb": peak}))
"""


def loaded(path: Path) -> Any:  # noqa: ANN401 - a module
    spec = importlib.util.spec_from_file_location(f"hostile_{path.stem}", path)
    assert spec
    assert spec.loader
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


# Cases are no package: the class they share is known to them under this name.
sys.modules["hostile_case"] = loaded(HERE / "hostile_case.py")

CASES: dict[str, Any] = {
    case.name: case for path in sorted(HERE.glob("cases_*.py")) for case in loaded(path).cases()
}

# Cases by the set that they share, in the order of the first of each; most have their own.
MOST_IN_COMPANY = 8
COMPANIES: list[list[Any]] = []
for _, _cases in groupby(
    sorted(CASES.values(), key=lambda case: [str(part) for part in case.company()]),
    key=lambda case: case.company(),
):
    _held = list(_cases)
    COMPANIES += [_held[n : n + MOST_IN_COMPANY] for n in range(0, len(_held), MOST_IN_COMPANY)]


@dataclass
class Quarantine:
    """The corpus on disk, what was found in it, and what lay around it before."""

    rules: dict[str, list[list[Any]]]
    peak_mb: int
    before: str
    after: str
    left: list[str]
    errors: str


@pytest.fixture(scope="session")
def quarantine(tmp_path_factory: pytest.TempPathFactory) -> Quarantine:
    """Check the whole corpus in one confined process."""
    root = tmp_path_factory.mktemp("hostile")
    clean = loaded(HERE.parent / "intake" / "conftest.py")
    study, sets, scratch = root / "study", root / "sets", root / "scratch"
    for folder in (study, sets, scratch):
        folder.mkdir()
    (study / "study.toml").write_text(clean.STUDY, encoding="utf-8")
    paths = {
        str(number): str(built(cases, sets / f"{number:03}", clean))
        for number, cases in enumerate(COMPANIES)
    }
    before = sha256sums(study) + sha256sums(sets)
    done = subprocess.run(  # noqa: S603 - our own interpreter
        [sys.executable, "-c", CHECKER],
        input=json.dumps({"sets": paths, "study": str(study)}),
        env=os.environ | dict.fromkeys(("TMPDIR", "TEMP", "TMP"), str(scratch)),
        cwd=study,
        capture_output=True,
        text=True,
        encoding="utf-8",
        check=False,
    )
    held = json.loads(done.stdout) if done.returncode == 0 else {"rules": {}, "peak_mb": -1}
    after = sha256sums(study) + sha256sums(sets)
    around = [*root.iterdir(), *scratch.iterdir(), *study.iterdir()]
    left = sorted(path.relative_to(root).as_posix() for path in around)
    rules = {
        case.name: of_case(case, place, held["rules"].get(str(number), []), len(cases))
        for number, cases in enumerate(COMPANIES)
        for place, case in enumerate(cases)
    }
    return Quarantine(rules, held["peak_mb"], before, after, left, done.stderr)


def built(cases: list[Any], folder: Path, clean: Any) -> Path:  # noqa: ANN401
    if len(cases) == 1:
        return cases[0].build(folder, clean)
    return sys.modules["hostile_case"].build_together(cases, folder, clean)


def of_case(case: Any, place: int, found: list[list[Any]], sharing: int) -> list[list[Any]]:  # noqa: ANN401
    """Give what was found in a set that is the case's alone, or in the cell that is."""
    mine = [case.cell[1], place + 2] if sharing > 1 else []
    return [
        [rule, complete]
        for rule, row, column, complete in found
        if not mine or [column, row] == mine
    ]


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    if "case_name" in metafunc.fixturenames:
        metafunc.parametrize("case_name", sorted(CASES))


@pytest.fixture(scope="session")
def cases() -> dict[str, Any]:
    return CASES
