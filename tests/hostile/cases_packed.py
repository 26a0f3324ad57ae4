"""Packed captures: built to fill memory or a disk, broken, or something else than they say."""

from __future__ import annotations

import gzip
import zipfile
from typing import TYPE_CHECKING, Any

import pyarrow as pa
from hostile_case import Case

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

CAPTURES = '\n[captures]\nframe_time_column = "ms"\nunit = "ms"\n'
# About ten seconds, no two frames alike, a mean of 7.02 ms.
TIMES = [f"{7 + (step * 37 % 101) / 2500:.4f}" for step in range(1424)]
LOG = "\n".join(["ms", *TIMES, ""]).encode()
MAGIC = b"\x28\xb5\x2f\xfd"


def zstandard(data: bytes) -> bytes:
    packed: bytes = pa.compress(data, codec="zstd", asbytes=True)
    return packed


def named(file: str) -> Callable[[Any], None]:
    """Let one run name a capture, and report nothing beside it."""

    def change(made: Any) -> None:  # noqa: ANN401 - the clean set's maker
        made.runs[0] |= {"capture_file": file, "average_fps": "", "low_1pct_rank_fps": ""}

    return change


def zipped(name: str, data: bytes) -> Callable[[Path, dict[str, bytes]], None]:
    def pack(path: Path, held: dict[str, bytes]) -> None:
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            for old, content in held.items():
                archive.writestr(old, content)
            archive.writestr(name, data, zipfile.ZIP_STORED)

    return pack


def cases() -> Iterator[Case]:
    zeros = b"ms\n" + b"7\n" * 10_000_000
    good, tight = gzip.compress(LOG), gzip.compress(zeros)
    damaged = bytearray(good)
    damaged[len(good) // 2] ^= 0xFF
    for name, file, data, rule in (
        ("gz that unpacks to a thousand times its size", "1.csv.gz", tight, "archive_ratio"),
        ("gz of many members that do", "1.csv.gz", tight * 3, "archive_ratio"),
        ("gz cut short", "1.csv.gz", good[: len(good) // 2], "capture_unreadable"),
        ("gz without its end", "1.csv.gz", good[:-8], "capture_unreadable"),
        ("gz damaged", "1.csv.gz", bytes(damaged), "capture_unreadable"),
        ("gz that is none", "1.csv.gz", LOG, "capture_unreadable"),
        ("gz of nothing", "1.csv.gz", gzip.compress(b""), "capture_empty"),
        ("gz empty", "1.csv.gz", b"", "capture_empty"),
        ("gz in gz", "1.csv.gz", gzip.compress(good), "capture_unreadable"),
        ("gz named csv", "1.csv", good, "capture_unreadable"),
        ("gz with a member of something else", "1.csv.gz", good + b"MZ\x00", "capture_unreadable"),
        ("zst that unpacks to a thousand times its size", "1.csv.zst", zstandard(zeros),
         "archive_ratio"),
        ("zst with a window of two gigabytes", "1.csv.zst", MAGIC + b"\x00\xa8\x01\x00\x00" + good,
         "file_too_large"),
        ("zst that states a terabyte", "1.csv.zst",
         MAGIC + b"\xe0" + (1 << 40).to_bytes(8, "little") + b"\x01\x00\x00", "file_too_large"),
        ("zst cut short", "1.csv.zst", zstandard(LOG)[:-20], "capture_unreadable"),
        ("zst that is none", "1.csv.zst", LOG, "capture_unreadable"),
        ("zst named gz", "1.csv.gz", zstandard(LOG), "capture_unreadable"),
        ("tar in gz", "1.tar.gz", good, "archive_in_archive"),
        ("program in gz", "1.exe.gz", good, "archive_in_archive"),
        ("gz of a table's kind", "1.parquet.gz", good, "archive_in_archive"),
        ("home folder in gz", "1.csv.gz", gzip.compress(b"ms,by\n7,/home/anna/x\n" + LOG[3:]),
         "personal_data_in_file"),
    ):  # fmt: skip
        place = f"captures/{file}"
        yield Case(
            f"packed: {name}", rule, maker=named(place), manifest=CAPTURES, files={place: data}
        )
    yield Case("packed: a table", "archive_in_archive", files={"runs.csv.gz": good})
    yield Case(
        "packed: zip of a gz bomb", "archive_ratio", archive=zipped("captures/1.csv.gz", tight)
    )
