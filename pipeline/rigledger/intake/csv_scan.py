"""Looks at a CSV file's bytes first: encoding, NUL bytes, physical lines."""

from __future__ import annotations

import codecs
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.intake.log import FindingLog

UTF_8 = ("utf-8", "utf-8-sig")
"""The encodings that need not be stated."""

_CHUNK = 1 << 20


@dataclass(frozen=True, slots=True)
class Scan:
    """What the bytes of a file say.

    Attributes:
        size: Bytes.
        lines: Physical lines, the last one counted whether or not a line end closes it.
        bare_returns: Whether lines end in carriage returns alone.
        bad_utf8_line: Line of the first byte that is not UTF-8, None where all is.
        nul_line: Line of the first NUL byte, None where there is none.
        utf16: Whether the file starts with the mark of UTF-16.
    """

    size: int
    lines: int
    bare_returns: bool
    bad_utf8_line: int | None
    nul_line: int | None
    utf16: bool


def scan(path: Path) -> Scan:
    """Read a file once and say what its bytes hold."""
    decoder = codecs.getincrementaldecoder("utf-8")()
    size = newlines = returns = 0
    bad = nul = None
    first = last = b""
    with path.open("rb") as stream:
        while chunk := stream.read(_CHUNK):
            first = first or chunk[:2]
            if bad is None:
                bad = _bad_line(decoder, chunk, newlines)
            if nul is None and b"\x00" in chunk:
                nul = newlines + chunk[: chunk.index(b"\x00")].count(b"\n") + 1
            size += len(chunk)
            newlines += chunk.count(b"\n")
            if b"\r" in chunk:
                returns += chunk.count(b"\r")
            last = chunk[-1:]
    if bad is None and decoder.getstate()[0]:
        bad = newlines + 1  # the file ends within a character
    lines = newlines + (last not in {b"", b"\n"})
    utf16 = first in {codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE}
    return Scan(size, lines, returns > newlines, bad, nul, utf16)


def _bad_line(decoder: codecs.IncrementalDecoder, chunk: bytes, newlines: int) -> int | None:
    if chunk.isascii() and decoder.getstate()[0] == b"":
        return None
    try:
        decoder.decode(chunk)
    except UnicodeDecodeError as error:
        return newlines + error.object[: error.start].count(b"\n") + 1
    return None


def plain_file(
    path: Path, encoding: str, into: Path, log: FindingLog, file: str, *, seen: Scan | None = None
) -> tuple[Path, Scan] | None:
    """Give a file as UTF-8, written anew where the set states another encoding.

    Args:
        path: The file as handed in.
        encoding: Encoding stated in [files].
        into: A path in our scratch folder for the file written anew.
        log: Takes the findings.
        file: The file as findings show it.
        seen: What the bytes of the file say, where they have been looked at.

    Returns:
        The file to read and what its bytes say; None where it is empty or in another encoding.
    """
    seen = seen or scan(path)
    if seen.size == 0:
        log.add("empty_file", "the file has no bytes", file=file)
        return None
    if encoding not in UTF_8:
        anew = _written_anew(path, encoding, into, log, file)
        return (anew, scan(anew)) if anew else None
    return (path, seen) if _is_plain(seen, log, file) else None


def _is_plain(seen: Scan, log: FindingLog, file: str) -> bool:
    if seen.utf16:
        step = 'Add to result-set.toml:\n[files]\nencoding = "utf-16"'
        log.add("encoding_not_stated", "the file is in UTF-16", file=file, row=1, next_step=step)
        return False
    if seen.bad_utf8_line is not None:
        step = 'Save it as UTF-8, or add to result-set.toml:\n[files]\nencoding = "windows-1252"'
        reason = "the file is not UTF-8: this line holds the first byte that isn't"
        log.add("encoding_not_stated", reason, file=file, row=seen.bad_utf8_line, next_step=step)
        return False
    if seen.nul_line is not None:
        log.add("nul_byte", "the line holds a NUL byte", file=file, row=seen.nul_line)
        return False
    return True


def _written_anew(path: Path, encoding: str, into: Path, log: FindingLog, file: str) -> Path | None:
    codec = "cp1252" if encoding == "windows-1252" else encoding
    try:
        with (
            path.open("r", encoding=codec, newline="") as source,
            into.open("x", encoding="utf-8", newline="") as sink,
        ):
            while piece := source.read(_CHUNK):
                if "\x00" in piece:
                    log.add(
                        "nul_byte",
                        f"the file holds NUL characters when read as {encoding}",
                        file=file,
                    )
                    return None
                sink.write(piece)
    except UnicodeError as error:
        reason = f"the file is not {encoding}, as [files] states: {error.__class__.__name__}"
        log.add("encoding_not_stated", reason, file=file)
        return None
    return into
