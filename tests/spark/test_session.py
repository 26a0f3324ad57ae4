"""Spark is asked for by name where it is missing; its functions are those of the C library."""

from __future__ import annotations

import math
import sys
from typing import TYPE_CHECKING

import pytest

from rigledger.errors import MissingExtraError
from rigledger.spark.session import C_FUNCTIONS, require_spark

if TYPE_CHECKING:
    from pathlib import Path
    from types import ModuleType


def module_named(name: str) -> ModuleType:
    return type(sys)(name)


def test_without_the_extra_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "pyspark", None)

    with pytest.raises(MissingExtraError) as refused:
        require_spark()

    assert str(refused.value) == (
        "pyspark is missing\nNext step: install Spark too: pip install 'rigledger[curator,spark]'"
    )


def test_without_java_it_says_so(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for name in ("pyspark", "sqlglot"):
        monkeypatch.setitem(sys.modules, name, module_named(name))
    monkeypatch.delenv("JAVA_HOME", raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))

    with pytest.raises(MissingExtraError) as refused:
        require_spark()

    assert str(refused.value) == (
        "Spark runs on Java, and there is none\n"
        "Next step: install Java 17 or newer, or set JAVA_HOME to where it is"
    )


def test_a_blank_gives_a_blank_and_what_is_beyond_a_double_is_infinite() -> None:
    ln, exp, power = (C_FUNCTIONS[name] for name in ("c_ln", "c_exp", "c_pow"))

    assert [ln(None), exp(None), power(None, 2.0), power(2.0, None)] == [None] * 4
    assert [ln(2.0), exp(1.0), power(3.0, 2.0)] == [math.log(2.0), math.e, 9.0]
    assert [exp(1000.0), power(1e200, 2.0)] == [math.inf] * 2


def test_what_has_no_logarithm_is_refused() -> None:
    with pytest.raises(ValueError, match=r"."):
        C_FUNCTIONS["c_ln"](0.0)
