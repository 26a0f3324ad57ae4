"""Archives and folders built to escape, to fill a disk, or to be something else than they say."""

from __future__ import annotations

import os
import stat
import zipfile
from typing import TYPE_CHECKING

from hostile_case import Case, break_name

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

NAMES = {
    "../runs.csv": "name_outside_set",
    "a/../../runs.csv": "name_outside_set",
    "/tmp/runs.csv": "name_outside_set",  # noqa: S108 - a name inside an archive
    "C:/runs.csv": "name_outside_set",
    "C:runs.csv": "name_outside_set",
    "..\\runs.csv": "name_outside_set",
    "\\\\host\\share\\runs.csv": "name_outside_set",
    "//host/share/runs.csv": "name_outside_set",
    "con": "name_not_portable",
    "AUX.csv": "name_not_portable",
    "captures/com1.csv": "name_not_portable",
    "nul.tar.csv": "name_not_portable",
    "runs.csv.": "name_not_portable",
    "runs.csv ": "name_not_portable",
    "a//b.csv": "name_not_portable",
    "a/./b.csv": "name_not_portable",
    "runs.csv:stream": "name_not_portable",
    "ru*ns.csv": "name_not_portable",
    "r\u202esvc.exe": "name_hidden_characters",
    "runs\u200d.csv": "name_hidden_characters",
    "runs\ufeff.csv": "name_hidden_characters",
    "ru\tns.csv": "name_hidden_characters",
    "\x1b[31mruns.csv": "name_hidden_characters",
    "d/" * 9 + "runs.csv": "name_too_long",
    "n" * 240 + ".csv": "name_too_long",
    "inner.zip": "archive_in_archive",
    "inner.7z": "archive_in_archive",
    "Runs.CSV": "name_twice",
    "runs.csv": "name_twice",
}


def with_entry(
    name: str, data: bytes = b"x", mode: int = 0
) -> Callable[[Path, dict[str, bytes]], None]:
    def pack(path: Path, held: dict[str, bytes]) -> None:
        with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
            for old, content in held.items():
                archive.writestr(old, content)
            info = zipfile.ZipInfo(name)
            info.external_attr = mode << 16
            archive.writestr(info, data, zipfile.ZIP_DEFLATED)

    return pack


def packed(method: int = zipfile.ZIP_DEFLATED) -> Callable[[Path, dict[str, bytes]], None]:
    def pack(path: Path, held: dict[str, bytes]) -> None:
        with zipfile.ZipFile(path, "w", method) as archive:
            for name, content in held.items():
                archive.writestr(name, content)

    return pack


def patched(change: Callable[[bytearray], None]) -> Callable[[Path, dict[str, bytes]], None]:
    def pack(path: Path, held: dict[str, bytes]) -> None:
        packed()(path, held)
        data = bytearray(path.read_bytes())
        change(data)
        path.write_bytes(bytes(data))

    return pack


def central(data: bytearray) -> int:
    return data.index(b"PK\x01\x02")


def encrypt(data: bytearray) -> None:
    data[central(data) + 8] |= 1


def lie_about_size(data: bytearray) -> None:
    at = central(data) + 24
    data[at : at + 4] = (5).to_bytes(4, "little")


def share_bytes(data: bytearray) -> None:
    second = data.index(b"PK\x01\x02", central(data) + 4)
    data[second + 42 : second + 46] = (0).to_bytes(4, "little")


def break_checksum(data: bytearray) -> None:
    at = central(data) + 16
    data[at : at + 4] = b"\x00\x01\x02\x03"


def break_stream(data: bytearray) -> None:
    data[60:90] = b"\xff" * 30


def cut(data: bytearray) -> None:
    del data[-40:]


def many(path: Path, held: dict[str, bytes]) -> None:
    with zipfile.ZipFile(path, "w") as archive:
        for number in range(5001 + len(held)):
            archive.writestr(f"captures/{number}.csv", b"")


def twice(path: Path, held: dict[str, bytes]) -> None:
    import warnings

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)
        with zipfile.ZipFile(path, "w") as archive:
            for name, content in [*held.items(), ("rigs.csv", b"other")]:
                archive.writestr(name, content)


def with_file(name: str, data: bytes = b"x") -> Callable[[Path], None]:
    def add(folder: Path) -> None:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)

    return add


def with_link(target: str) -> Callable[[Path], None]:
    def add(folder: Path) -> None:
        (folder / "more.csv").symlink_to(target)

    return add


def cases() -> Iterator[Case]:
    for name, rule in NAMES.items():
        if name == "runs.csv":
            yield Case("zip: one name twice", "name_twice", archive=twice)
        else:
            yield Case(f"zip: named {name[:40]!r}", rule, archive=with_entry(name))
    for kind, rule in (
        (stat.S_IFLNK, "link_in_set"),
        (stat.S_IFCHR, "special_file"),
        (stat.S_IFBLK, "special_file"),
        (stat.S_IFIFO, "special_file"),
        (stat.S_IFSOCK, "special_file"),
    ):
        pack = with_entry("more.csv", b"/etc/passwd", kind | 0o644)
        yield Case(f"zip: entry of kind {kind:o}", rule, archive=pack)
    bomb = with_entry("more.csv", b"0" * 30_000_000)
    yield Case("zip: thirty megabytes of one digit", "archive_ratio", archive=bomb)
    yield Case("zip: packed by another method", "archive_method", archive=packed(zipfile.ZIP_BZIP2))
    yield Case("zip: packed by a third method", "archive_method", archive=packed(zipfile.ZIP_LZMA))
    yield Case("zip: stored only", None, archive=packed(zipfile.ZIP_STORED))
    yield Case("zip: encrypted", "archive_encrypted", archive=patched(encrypt))
    yield Case("zip: states a smaller size", "archive_damaged", archive=patched(lie_about_size))
    yield Case("zip: entries share bytes", "archive_too_large", archive=patched(share_bytes))
    yield Case("zip: wrong checksum", "archive_damaged", archive=patched(break_checksum))
    yield Case("zip: broken stream", "archive_damaged", archive=patched(break_stream))
    yield Case("zip: a name that is no UTF-8", "archive_damaged", archive=patched(break_name))
    yield Case("zip: cut short", "archive_damaged", archive=patched(cut))
    yield Case("zip: too many entries", "archive_too_large", archive=many)
    yield Case("zip: no archive", "archive_damaged", archive=lambda path, _: path.write_bytes(b"x"))
    yield Case("zip: empty file", "archive_damaged", archive=lambda path, _: path.write_bytes(b""))
    yield Case("zip: no entries", "manifest_missing", archive=lambda path, _: packed()(path, {}))
    yield from folders()


def folders() -> Iterator[Case]:
    for name, rule in (
        ("tool.exe", "program_in_set"),
        ("start.bat", "program_in_set"),
        ("page.hta", "program_in_set"),
        ("kit.xlsm", "program_in_set"),
        ("inner.tar", "archive_in_archive"),
        ("photo.jpg", "file_not_used"),
        ("d/" * 8 + "deep.csv", "special_file"),
    ):
        yield Case(f"folder: holds {name}", rule, after=with_file(name))
    if os.name != "nt":
        for target in ("/etc/passwd", "/etc", "rigs.csv", "nowhere", "more.csv", "../../study"):
            yield Case(f"folder: link to {target}", "link_in_set", after=with_link(target))
        yield Case("folder: pipe", "special_file", after=lambda folder: os.mkfifo(folder / "p.csv"))
        name = "bad\nname.csv"
        yield Case("folder: line end in a name", "name_hidden_characters", after=with_file(name))
