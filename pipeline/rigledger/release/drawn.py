"""Draws records of a CSV file as they stand in it, by a seed, without reading it as a table."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from io import StringIO
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import numpy as np
    from numpy.typing import NDArray

_CHUNK = 1 << 24
_LINE_FEED, _QUOTE = b"\n"[0], b'"'[0]


@dataclass(frozen=True, slots=True)
class Drawn:
    """Records that were drawn.

    Attributes:
        records: How many records the file has behind its header.
        places: Which were drawn, ascending from 0.
        text: Header and drawn records, byte for byte.
    """

    records: int
    places: tuple[int, ...]
    text: bytes

    def rows(self) -> list[tuple[str, ...]]:
        """Give the drawn records' cells.

        Raises:
            ValueError: They are no UTF-8 or no CSV.
        """
        try:
            read = csv.reader(StringIO(self.text.decode("utf-8"), newline=""), strict=True)
            return [tuple(row) for row in read][1:]
        except csv.Error as error:
            raise ValueError(str(error)) from error


def draw(path: Path, most: int, seed: int) -> Drawn:
    """Draw records of a CSV file, each as likely as any other; all where there are no more.

    Args:
        path: A CSV file with a header and a line feed behind each record.
        most: How many to draw.
        seed: Decides which.
    """
    import numpy as np

    ends = record_ends(path)
    records = max(len(ends) - 1, 0)
    drawn = np.random.default_rng(seed).choice(records, min(most, records), replace=False)
    places = np.sort(drawn)
    header = [(0, int(ends[0]))] if len(ends) else []
    spans = [*header, *zip(ends[places].tolist(), ends[places + 1].tolist(), strict=True)]
    return Drawn(records, tuple(places.tolist()), _parts(path, spans))


def record_ends(path: Path) -> NDArray[np.int64]:
    """Give where each record of a CSV file ends, header first: the byte behind its line feed.

    A line feed within quotes ends none (RFC 4180, section 2, rule 6).
    """
    import numpy as np

    found, offset, quotes = [np.zeros(0, np.int64)], 0, 0
    with path.open("rb") as stream:
        while chunk := stream.read(_CHUNK):
            held = np.frombuffer(chunk, np.uint8)
            feeds = np.flatnonzero(held == _LINE_FEED)
            marks = np.flatnonzero(held == _QUOTE) if b'"' in chunk else feeds[:0]
            outside = (quotes + np.searchsorted(marks, feeds)) % 2 == 0
            found.append(feeds[outside] + offset + 1)
            offset, quotes = offset + len(chunk), quotes + len(marks)
    return np.concatenate(found)


def _parts(path: Path, spans: Sequence[tuple[int, int]]) -> bytes:
    parts = []
    with path.open("rb") as stream:
        for start, end in spans:
            stream.seek(start)
            parts.append(stream.read(end - start))
    return b"".join(parts)
