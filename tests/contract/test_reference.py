"""The generated reference page."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

from rigledger.contract import reference as page
from rigledger.contract.load import schema_folder

if TYPE_CHECKING:
    from pathlib import Path

    import pytest

    from rigledger.contract import Contract


def test_the_reference_page_is_current(contract: Contract) -> None:
    held = (schema_folder() / "REFERENCE.md").read_text(encoding="utf-8")
    assert page.reference(contract) == held, "run: python -m rigledger.contract.reference"


def test_the_page_names_every_field_metric_rule_term_and_unit(contract: Contract) -> None:
    text = page.reference(contract)
    names = {
        *(field.name for table in contract.tables.values() for field in table.fields),
        *contract.metrics,
        *contract.rules,
        *(term for held in contract.vocabularies.values() for term in held.terms),
        *contract.units,
    }
    assert [] == sorted(name for name in names if f"`{name}`" not in text)


def test_every_line_of_a_grid_has_as_many_cells_as_its_head(contract: Contract) -> None:
    lines = page.reference(contract).replace("\\|", "").split("\n")
    widths = [line.count("|") if line.startswith("|") else 0 for line in lines]
    inside = [(above, below) for above, below in pairwise(widths) if above and below]
    assert [above for above, _ in inside] == [below for _, below in inside]


def test_a_stale_page_is_told_and_mended(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(page, "schema_folder", lambda: tmp_path)
    stale = page.main(["--check"])
    written = page.main([])
    assert (1, 0, 0) == (stale, written, page.main(["--check"]))
    assert "Next step: python -m rigledger.contract.reference" in capsys.readouterr().err
