"""Builds the hostile corpus: each case is a set made by code, with the finding it must come to."""

from __future__ import annotations

import importlib.util
import json
import os
import subprocess
import sys
from dataclasses import dataclass
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
    return [[f.rule, f.severity, bool(f.reason and f.next_step)] for f in result.findings]
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
        name: str(case.build(sets / f"{number:03}", clean))
        for number, (name, case) in enumerate(CASES.items())
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
    return Quarantine(held["rules"], held["peak_mb"], before, after, left, done.stderr)


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    if "case_name" in metafunc.fixturenames:
        metafunc.parametrize("case_name", sorted(CASES))


@pytest.fixture(scope="session")
def cases() -> dict[str, Any]:
    return CASES
