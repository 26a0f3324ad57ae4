"""Loads the scripts of the data sets and of ci/, which are no packages."""

from __future__ import annotations

import importlib.util
import sys
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import ModuleType

ROOT = Path(__file__).resolve().parents[2]


def load(path: Path) -> ModuleType:
    name = "script_" + path.stem
    spec = importlib.util.spec_from_file_location(name, path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def datasets() -> Path:
    return ROOT / "datasets"


@pytest.fixture(scope="session")
def truth() -> Path:
    return ROOT / "tests" / "datasets" / "link-width-truth.toml"


@pytest.fixture(scope="session")
def generator() -> ModuleType:
    return load(ROOT / "datasets" / "link-width" / "generate.py")


@pytest.fixture(scope="session")
def planting() -> ModuleType:
    return load(ROOT / "datasets" / "link-width" / "planted.py")


@pytest.fixture(scope="session")
def history(datasets: Path) -> Callable[[str], list[dict[str, Any]]]:
    def steps(study: str) -> list[dict[str, Any]]:
        text = (datasets / study / "history.toml").read_text(encoding="utf-8")
        held: list[dict[str, Any]] = tomllib.loads(text)["steps"]
        return held

    return steps


@pytest.fixture(scope="session")
def bringing_in() -> ModuleType:
    return load(ROOT / "datasets" / "driver-threading" / "bring_in.py")


@pytest.fixture(scope="session")
def confusing() -> ModuleType:
    return load(ROOT / "ci" / "confusion.py")
