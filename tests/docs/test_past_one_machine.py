"""The way past one machine, as its page shows it, is made of what is there."""

from __future__ import annotations

import ast
import builtins
import importlib
import re
from pathlib import Path

import pytest

PAGE = Path(__file__).resolve().parents[2] / "pipeline" / "docs" / "past-one-machine.md"


@pytest.fixture(scope="module")
def code() -> ast.Module:
    (block,) = re.findall(r"```python\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    return ast.parse(block)


def test_what_it_imports_is_there(code: ast.Module) -> None:
    pytest.importorskip("sqlglot", reason="the extra spark is not installed")
    wanted = [
        (held.module or "", name.name)
        for held in code.body
        if isinstance(held, ast.ImportFrom)
        for name in held.names
    ]

    missing = [pair for pair in wanted if not hasattr(importlib.import_module(pair[0]), pair[1])]

    assert (len(wanted), missing) == (8, [])


def test_it_uses_no_name_that_it_did_not_make(code: ast.Module) -> None:
    names = [node for node in ast.walk(code) if isinstance(node, ast.Name)]
    imported = {
        name.name for node in code.body if isinstance(node, ast.ImportFrom) for name in node.names
    }
    made = {node.id for node in names if isinstance(node.ctx, ast.Store)}
    used = {node.id for node in names if isinstance(node.ctx, ast.Load)}

    assert used - made - imported - set(dir(builtins)) == set()


def test_every_module_it_names_is_there() -> None:
    named = set(re.findall(r"`((?:ci|pipeline|tests)/[\w/]+\.py)`", PAGE.read_text("utf-8")))

    assert named == {"pipeline/rigledger/spark/rewritings.py", "tests/spark/test_translate.py"}
    assert [name for name in named if not (PAGE.parents[2] / name).is_file()] == []
