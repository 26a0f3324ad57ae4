"""Opens captures as handed in: as they are, packed with gzip, or packed with Zstandard."""

from __future__ import annotations

import gzip
import io
import zlib
from typing import TYPE_CHECKING, BinaryIO, TextIO, cast

if TYPE_CHECKING:
    from pathlib import Path

PACKED = frozenset({".gz", ".zst"})

NO_ZSTANDARD = "this install can't unpack Zstandard: install rigledger[curator], or pack with gzip"

# What opening, unpacking or decoding a file that is broken, cut short or gone can raise.
UNREADABLE = (OSError, EOFError, UnicodeError, zlib.error)


def open_bytes(path: Path) -> BinaryIO:
    """Open a capture's bytes, unpacked by the ending of its name.

    Raises:
        OSError: The file can't be opened, or this install can't unpack it. Reading on can raise
            any of `UNREADABLE`.
    """
    kind = path.suffix.lower()
    if kind == ".gz":
        return cast("BinaryIO", gzip.open(path, "rb"))
    if kind == ".zst":
        return _open_zstandard(path)
    return path.open("rb")


def open_text(path: Path, encoding: str) -> TextIO:
    """Open a CSV capture as text, unpacked; a byte-order mark of UTF-8 is skipped."""
    coding = "utf-8-sig" if is_utf8(encoding) else encoding
    return io.TextIOWrapper(open_bytes(path), encoding=coding, newline="")


def is_utf8(encoding: str) -> bool:
    """Whether an encoding is UTF-8 by one of its names."""
    return encoding.lower().replace("_", "-") in {"utf-8", "utf8"}


def _open_zstandard(path: Path) -> BinaryIO:
    try:
        import pyarrow as pa
    except ImportError as error:
        raise OSError(NO_ZSTANDARD) from error
    with path.open("rb") as packed:
        stream = pa.CompressedInputStream(pa.BufferReader(packed.read()), "zstd")
    return cast("BinaryIO", io.BufferedReader(stream))
