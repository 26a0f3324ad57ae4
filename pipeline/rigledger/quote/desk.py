"""Fills a draft's file: writes the filled one and its record, or nothing at all."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.errors import RigledgerError
from rigledger.files import write_bytes, write_text
from rigledger.quote.fill import fill_draft
from rigledger.quote.record import (
    Changes,
    Record,
    compare,
    read_record,
    record_path,
    record_text,
    sha256,
)

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.quote.figures import Ledger
    from rigledger.quote.fill import Filled

HTML_ENDINGS = frozenset({".html", ".htm", ".xhtml"})
MARKDOWN_ENDINGS = frozenset({".md", ".markdown", ".txt"})


class QuoteError(RigledgerError, ValueError):
    """A draft can't be read, or filling it would lose something."""

    code = "quote"


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of filling a draft.

    Attributes:
        filled: The filled draft and its findings.
        changes: Sentences that read otherwise than in what was written before.
        written: Where it was written; None where findings stopped it.
    """

    filled: Filled
    changes: Changes
    written: Path | None

    @property
    def clean(self) -> bool:
        """Whether it was written and nothing has to be looked at."""
        return self.written is not None and not self.filled.count("error", "open", "stray")


def quote_file(
    draft: Path, out: Path, ledger: Ledger, *, allow_open: bool = False, replace: bool = False
) -> Outcome:
    """Fill a draft into another file.

    Nothing is written where a placeholder has no figure, or has one that the data don't bear out
    and ``allow_open`` isn't said. Stray numbers are told and don't stop it.

    Args:
        draft: The draft, Markdown or HTML in UTF-8; never changed.
        out: Where the filled one goes.
        ledger: Where figures come from.
        allow_open: Fill in figures of claims that don't hold, too.
        replace: Overwrite a filled draft that was edited by hand.

    Raises:
        QuoteError: The draft can't be read, or ``out`` is the draft, or was edited by hand.
    """
    html = _is_html(draft)
    data = _read(draft)
    if out.resolve() == draft.resolve():
        raise QuoteError("would overwrite the draft itself", file=str(out))
    before = read_record(out)
    _refuse_edited(out, before, replace=replace)
    filled = fill_draft(data.decode("utf-8"), ledger, html=html)
    changes = compare(before, filled.figures)
    stops = ("error",) if allow_open else ("error", "open")
    if filled.count(*stops):
        return Outcome(filled, changes, None)
    written = filled.text.encode("utf-8")
    record = Record(ledger.source.design.study, sha256(data), sha256(written), filled.figures)
    write_bytes(out, written)
    write_text(record_path(out), record_text(record))
    return Outcome(filled, changes, out)


def _is_html(draft: Path) -> bool:
    ending = draft.suffix.lower()
    if ending not in HTML_ENDINGS | MARKDOWN_ENDINGS:
        raise QuoteError(
            "is neither Markdown nor HTML by its name", file=str(draft),
            next_step="name it .md or .html",
        )  # fmt: skip
    return ending in HTML_ENDINGS


def _read(draft: Path) -> bytes:
    try:
        data = draft.read_bytes()
        data.decode("utf-8")
    except OSError as error:
        raise QuoteError("can't be read", file=str(draft)) from error
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise QuoteError(
            "is not UTF-8", file=str(draft), row=line, value=repr(data[error.start : error.end]),
            next_step="save it as UTF-8",
        ) from error  # fmt: skip
    return data


def _refuse_edited(out: Path, before: Record | None, *, replace: bool) -> None:
    if not out.exists() or replace:
        return
    if before is None or sha256(out.read_bytes()) != before.filled:
        raise QuoteError(
            "was not written by this command, or was edited since: it would be lost",
            file=str(out),
            next_step="make the change in the draft, or give --replace",
        )
