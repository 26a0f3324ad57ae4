"""The filled draft and its record are written whole or not at all; a correction is told."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from rigledger.quote.desk import QuoteError, quote_file
from rigledger.quote.record import record_path
from rigledger.quote.show import outcome_lines

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.quote.figures import Ledger

VALUE = "{@ value rig=a.q3-52 level=x16 @}"
DRAFT = f"\ufeff# A\r\n\r\nIt ran at {VALUE}; so it goes. &amp; more\t\r\n\r\n\r\nEnd"


@pytest.fixture
def draft(tmp_path: Path) -> Path:
    path = tmp_path / "draft.md"
    path.write_bytes(DRAFT.encode())
    return path


@pytest.fixture
def out(tmp_path: Path) -> Path:
    return tmp_path / "out" / "filled.md"


def test_every_byte_but_the_placeholders_stays(draft: Path, out: Path, ledger: Ledger) -> None:
    made = quote_file(draft, out, ledger)
    assert made.clean
    assert out.read_bytes() == DRAFT.replace(VALUE, "63.3 fps").encode()
    assert draft.read_bytes() == DRAFT.encode()


def test_the_same_draft_gives_the_same_bytes(draft: Path, out: Path, ledger: Ledger) -> None:
    quote_file(draft, out, ledger)
    first = out.read_bytes(), record_path(out).read_bytes()
    made = quote_file(draft, out, ledger)
    assert (out.read_bytes(), record_path(out).read_bytes()) == first
    assert made.changes.sentences == ()


def test_after_a_correction_the_changed_sentences_are_listed(
    draft: Path, out: Path, ledger: Ledger
) -> None:
    quote_file(draft, out, ledger)
    (row,) = (held for held in ledger.rows("value") if held["level"] == "x16")
    row["value"] = 60.1
    made = quote_file(draft, out, ledger)
    assert list(outcome_lines(made, draft)) == [
        "1 sentence changed since it was last filled:",
        "  draft.md:3",
        "    was: It ran at 63.3 fps; so it goes.",
        "    now: It ran at 60.1 fps; so it goes.",
        f"1 figure filled in: {out}",
    ]
    assert "60.1 fps" in out.read_text(encoding="utf-8")


def test_new_and_dropped_placeholders_are_told_apart_from_changes(
    draft: Path, out: Path, ledger: Ledger
) -> None:
    quote_file(draft, out, ledger)
    draft.write_text(DRAFT.replace(VALUE, "{@ count runs @}"), encoding="utf-8", newline="")
    changes = quote_file(draft, out, ledger).changes
    assert (changes.gained, changes.lost) == (("{@ count runs @}",), (VALUE,))


def test_nothing_is_written_while_a_placeholder_has_no_figure(
    draft: Path, out: Path, ledger: Ledger
) -> None:
    draft.write_text(f"{VALUE} {{@ value rig=a.q3-25 @}}", encoding="utf-8")
    made = quote_file(draft, out, ledger, allow_open=True)
    assert (made.written, out.parent.exists()) == (None, False)
    assert list(outcome_lines(made, draft))[-1] == (
        "Nothing is written: 1 placeholder to be looked at first."
    )


def test_an_open_claim_is_written_only_if_that_is_said(
    draft: Path, out: Path, ledger: Ledger
) -> None:
    draft.write_text("It is {@ claim wrong @}.", encoding="utf-8")
    assert quote_file(draft, out, ledger).written is None
    assert not out.exists()
    made = quote_file(draft, out, ledger, allow_open=True)
    assert (out.read_text(encoding="utf-8"), made.clean) == ("It is 12 % slower.", False)


def test_a_stray_number_is_told_and_does_not_stop_it(
    draft: Path, out: Path, ledger: Ledger
) -> None:
    draft.write_text("It is 12 % slower.", encoding="utf-8")
    made = quote_file(draft, out, ledger)
    assert (made.written, made.clean) == (out, False)


def test_a_filled_draft_that_was_edited_is_not_lost(draft: Path, out: Path, ledger: Ledger) -> None:
    quote_file(draft, out, ledger)
    out.write_text("my own words", encoding="utf-8")
    with pytest.raises(QuoteError, match="edited since"):
        quote_file(draft, out, ledger)
    assert out.read_text(encoding="utf-8") == "my own words"
    assert quote_file(draft, out, ledger, replace=True).written == out


def test_the_draft_itself_is_never_the_target(draft: Path, ledger: Ledger) -> None:
    with pytest.raises(QuoteError, match="the draft itself"):
        quote_file(draft, draft, ledger)


def test_a_draft_of_another_encoding_is_refused_with_its_line(
    draft: Path, out: Path, ledger: Ledger
) -> None:
    draft.write_bytes("a\nb\nGröße".encode("latin-1"))
    with pytest.raises(QuoteError) as caught:
        quote_file(draft, out, ledger)
    assert (caught.value.message, caught.value.row, out.exists()) == ("is not UTF-8", 3, False)


def test_a_name_that_says_neither_markdown_nor_html_is_refused(
    tmp_path: Path, out: Path, ledger: Ledger
) -> None:
    with pytest.raises(QuoteError, match="neither Markdown nor HTML"):
        quote_file(tmp_path / "draft.docx", out, ledger)
