"""Captures that a stranger packed: their unpacked bytes are counted and bounded before reading."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.captures.packed import UNREADABLE, open_bytes
from rigledger.intake.limits import limit, megabytes, named

if TYPE_CHECKING:
    from pathlib import Path

_NAME = re.compile(r"(?P<stem>.+)\.(csv|tsv|log|txt)\.(gz|zst)", re.IGNORECASE)
_TABLES = frozenset({"set", "result-set", "rigs", "sessions", "runs", "platforms", "cards"})
_CHUNK = 1 << 20
_ZSTANDARD = b"\x28\xb5\x2f\xfd"


@dataclass(frozen=True, slots=True)
class Unpacked:
    """What a packed capture comes to.

    Attributes:
        size: Bytes that were unpacked, up to the limit it went beyond.
        problem: Rule and reason; None where it may be read.
    """

    size: int
    problem: tuple[str, str] | None = None


def is_packed_capture(name: str) -> bool:
    """Say whether a file of a set may be a packed capture: ``….csv.gz``, and no table of the set.

    Args:
        name: Path inside the set.
    """
    match = _NAME.fullmatch(name.rpartition("/")[2])
    return match is not None and ("/" in name or match["stem"].lower() not in _TABLES)


def unpacked(path: Path, left: int) -> Unpacked:
    """Unpack a capture to nowhere and count its bytes; what it says of its size is a claim.

    A capture that is damaged or cut short is counted as far as it goes: whoever reads it says so.

    Args:
        path: The packed file.
        left: Bytes that the set may still come to.

    Returns:
        Its size, and why it may not be read.
    """
    problem = _window_problem(path)
    if problem:
        return Unpacked(0, problem)
    packed = max(path.stat().st_size, 1)
    most = min(megabytes("files.capture_mb"), left)
    size = 0
    try:
        with open_bytes(path) as stream:
            while chunk := stream.read(_CHUNK):
                size += len(chunk)
                problem = _size_problem(size, packed, most)
                if problem:
                    return Unpacked(size, problem)
    except UNREADABLE:
        return Unpacked(size)
    return Unpacked(size)


def _size_problem(size: int, packed: int, most: int) -> tuple[str, str] | None:
    if size > megabytes("packed.ratio_from_mb") and size > packed * limit("packed.ratio"):
        text = f"the file unpacks to more than {named('packed.ratio')} times its packed size"
        return "archive_ratio", text
    if size > megabytes("files.capture_mb"):
        return "file_too_large", f"the file unpacks to more than {named('files.capture_mb')}"
    if size > most:
        text = f"with this file the set unpacks to more than {named('folder.total_mb')}"
        return "set_too_large", text
    return None


def _window_problem(path: Path) -> tuple[str, str] | None:
    """Judge the memory that the first frame of a Zstandard file asks for."""
    if path.suffix.lower() != ".zst":
        return None
    with path.open("rb") as stream:
        window = window_of(stream.read(18))
    if window <= megabytes("packed.window_mb"):
        return None
    text = f"unpacking it takes {window} bytes of memory, beyond {named('packed.window_mb')}"
    return "file_too_large", text


def window_of(head: bytes) -> int:
    """Give the window size that a Zstandard frame states, in bytes (RFC 8878, 3.1.1.1).

    Args:
        head: The first 18 bytes of the file.

    Returns:
        The size; 0 where this is no such frame, or too short to say.
    """
    if head[:4] != _ZSTANDARD or len(head) < 6:
        return 0
    if not head[4] & 0x20:
        exponent, mantissa = head[5] >> 3, head[5] & 7
        return (1 << (10 + exponent)) * (8 + mantissa) // 8
    # A frame of a single segment states its content's size instead, behind a dictionary's id.
    start = 5 + (0, 1, 2, 4)[head[4] & 3]
    length = (1, 2, 4, 8)[head[4] >> 6]
    size = int.from_bytes(head[start : start + length], "little")
    return size + 256 if length == 2 else size
