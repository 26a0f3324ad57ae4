"""The tester's install stands alone: what a wheel brings with its plain requirements is enough."""

from __future__ import annotations

import shutil
import subprocess
import sys
from importlib.metadata import distribution, distributions
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from packaging.requirements import Requirement

if TYPE_CHECKING:
    from collections.abc import Callable
    from importlib.metadata import Distribution

ROOT = Path(__file__).resolve().parents[2]
STUDY = ROOT / "datasets" / "link-width"
LARGEST_MB = 120
HEAVY = ("pandas", "polars", "pandera", "frictionless", "great_expectations", "scipy")
CURATOR = (*HEAVY, "numpy", "pyarrow", "jinja2", "altair")


def run(python: Path, *arguments: str, cwd: Path = ROOT) -> str:
    done = subprocess.run(  # noqa: S603 - our own python
        [python, "-X", "utf8", *arguments],
        cwd=cwd, capture_output=True, encoding="utf-8", check=False,
    )  # fmt: skip
    assert done.returncode in {0, 1}, done.stdout + done.stderr
    return done.stdout


def loaded(arguments: list[str]) -> set[str]:
    """Run a command in a fresh process and give the heavy packages it has loaded."""
    code = (
        "import sys\nfrom rigledger.cli import app\n"
        "try:\n    app(sys.argv[1:])\nexcept SystemExit:\n    pass\n"
        f"print('\\nloaded:', *sorted(set({CURATOR!r}) & set(sys.modules)))"
    )
    out = run(Path(sys.executable), "-c", code, *arguments)
    return set(out.rsplit("loaded:", 1)[1].split())


@pytest.mark.parametrize(
    "arguments",
    [
        ["--help"],
        ["check", "--help"],
        ["check", str(STUDY / "sets" / "maren.first"), "--study", str(STUDY)],
        ["sheet", str(STUDY), "--card", "brankelo-94", "--platform", "q1"],
    ],
    ids=["help", "help of a command", "check", "sheet"],
)
def test_a_testers_command_loads_nothing_of_the_curators(arguments: list[str]) -> None:
    assert loaded(arguments) == set()


def test_making_a_kit_loads_nothing_of_the_curators(tmp_path: Path) -> None:
    rig = ["--contributor", "anna", "--set", "first", "--rig", "box=q1,brankelo-94"]

    assert loaded(["kit", str(STUDY), str(tmp_path / "kit.xlsx"), *rig]) == set()


@pytest.fixture(scope="module")
def tester(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the wheel and what it asks for, and nothing else.

    What it asks for is copied from this environment, where the lock file has put it.
    """
    place, built = tmp_path_factory.mktemp("tester"), tmp_path_factory.mktemp("wheel")
    wheel = ["-m", "pip", "--disable-pip-version-check", "wheel", "-q", "--no-deps"]
    run(Path(sys.executable), *wheel, "--no-build-isolation", "-w", str(built), str(ROOT))
    (packed,) = built.glob("rigledger-*.whl")
    shutil.unpack_archive(packed, place, "zip")
    (ours,) = distributions(name="rigledger", path=[str(place)])
    for needed in needed_by(ours):
        copy_installed(needed, place)
    return place


def needed_by(ours: Distribution) -> list[Distribution]:
    """Give the distributions that one needs without any extra, and what these need in turn."""
    found: dict[str, Distribution] = {}
    asked = [(ours, "")]
    for holder, extra in asked:
        for requirement in map(Requirement, holder.requires or ()):
            marker = requirement.marker
            if marker is None or marker.evaluate({"extra": extra}):
                held = found.setdefault(requirement.name, distribution(requirement.name))
                further = [(held, name) for name in ("", *requirement.extras)]
                asked += [one for one in further if one not in asked]
    return list(found.values())


def copy_installed(held: Distribution, place: Path) -> None:
    """Copy an installed distribution's files, but for programs and compiled modules."""
    for file in held.files or ():
        if ".." not in file.parts and file.suffix != ".pyc":
            (place / file).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(file.locate(), place / file)


def run_as_tester(place: Path, *arguments: str, cwd: Path) -> str:
    """Run the command with the tester's packages alone: without this environment's own."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("PYTHONPATH", str(place))
        return run(Path(sys.executable), "-S", "-m", "rigledger", *arguments, cwd=cwd)


def megabytes(folder: Path) -> float:
    return sum(path.stat().st_size for path in folder.rglob("*") if path.is_file()) / 1e6


@pytest.mark.slow
def test_the_testers_install_is_small(
    tester: Path, record_property: Callable[[str, object], None]
) -> None:
    size = megabytes(tester)
    record_property("the tester's install, MB beside pip", f"{size:.1f}")

    assert 0 < size < LARGEST_MB


@pytest.mark.slow
def test_the_testers_install_makes_a_kit_and_checks_a_set(tester: Path, tmp_path: Path) -> None:
    rig = ["--contributor", "anna", "--set", "first", "--rig", "box=q1,brankelo-94"]
    kit_of = ["kit", str(STUDY), str(tmp_path / "kit"), *rig]
    given = STUDY / "sets" / "maren.first"

    kit = run_as_tester(tester, *kit_of, cwd=tmp_path)
    checked = run_as_tester(tester, "check", str(given), "--study", str(STUDY), cwd=tmp_path)

    assert kit.startswith("kit for anna in")
    assert "maren.first for the study link-width" in checked
