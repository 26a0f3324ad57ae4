"""Looks through the logs and notes of a set for what its owner may not want to publish.

Tables are looked through by rules; here it is the other files, which are kept as handed in: every
line and column of a capture, not only the one that is read.
"""

from __future__ import annotations

import codecs
import re
from contextlib import suppress
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.captures.packed import UNREADABLE, open_bytes
from rigledger.intake.packed import is_packed_capture
from rigledger.intake.text import excerpt, printable

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

    from rigledger.intake.log import FindingLog

_CHUNK = 1 << 20
_OVERLAP = 512
# Most of a log is numbers, in which no hint stands: what is left of it is looked through at once.
_OF_NUMBERS = b"0123456789.,;+- \t\r\n"
_KINDS = (".csv", ".tsv", ".log", ".txt", ".md", ".json")


@dataclass(frozen=True, slots=True)
class _Sign:
    """What is looked for; ``hints`` are cheap to find and stand in every match.

    They are in lower case, and of characters that numbers don't have.
    """

    name: str
    hints: tuple[bytes, ...]
    pattern: re.Pattern[bytes]


# As in the rule personal_data, but for bare numbers: logs are full of long ones.
_SIGNS = (
    _Sign(
        "an e-mail address",
        (b"@",),
        re.compile(rb"[A-Za-z0-9._%+-]{1,64}@[A-Za-z0-9-]{1,63}(?:\.[A-Za-z0-9-]{1,63})+"),
    ),
    _Sign(
        "a home folder",
        (b"users", b"/home/"),
        re.compile(
            rb"(?i)[a-z]:[\\/]+users[\\/]+[^\\/\s,;\"]+|/home/[^/\s,;\"]+|/users/[^/\s,;\"]+"
        ),
    ),
    _Sign(
        "a serial number",
        (b"serial", b"s/n"),
        re.compile(
            rb"(?i)\b(?:s/n|serial(?:[ _]?number|[ _]?no\.?)?)\"?[ \t]*[:=#,;]?[ \t]*\"?"
            rb"(?=[a-z-]*[0-9])[a-z0-9-]{6,}"
        ),
    ),
)


def find_personal(folder: Path, names: Iterable[str], log: FindingLog) -> None:
    """Point at the first place of each kind in each file.

    Args:
        folder: The set's folder.
        names: Its files, without those that are tables.
        log: Takes a remark for each kind found in a file.
    """
    for name in names:
        if name.lower().endswith(_KINDS) or is_packed_capture(name):
            # A packed file that is damaged is looked through as far as it goes.
            with suppress(*UNREADABLE):
                _look_through(folder, name, log)


def _look_through(folder: Path, name: str, log: FindingLog) -> None:
    for sign, row, value in _found(folder / name):
        reason = f"the file holds what looks like {sign.name}"
        log.add("personal_data_in_file", reason, file=printable(name), row=row, value=value)


def _found(path: Path) -> Iterator[tuple[_Sign, int, str]]:
    left = list(_SIGNS)
    lines = 0
    for piece, fresh in _pieces(path):
        words = piece.translate(None, _OF_NUMBERS).lower()
        for sign in list(left):
            if not any(hint in words for hint in sign.hints):
                continue
            if match := sign.pattern.search(piece):
                left.remove(sign)
                row = lines + piece[: match.start()].count(b"\n") + 1
                yield sign, row, excerpt(match[0].decode("utf-8", "replace")) or ""
        if not left:
            return
        lines += piece[:fresh].count(b"\n")


def _pieces(path: Path) -> Iterator[tuple[bytes, int]]:
    """Give a file (of 3 bytes or more) in overlapping pieces, and how much of each is new."""
    with open_bytes(path) as stream:
        first = stream.read(2)
        utf16 = first in {codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE}
        kept = b"" if utf16 else first
        while chunk := stream.read(_CHUNK):
            # In UTF-16 every other byte of what is looked for is zero.
            piece = kept + (chunk.replace(b"\x00", b"") if utf16 else chunk)
            fresh = max(0, len(piece) - _OVERLAP)
            yield piece, fresh
            kept = piece[fresh:]
