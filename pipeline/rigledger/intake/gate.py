"""The gate: what may be opened at all, by names, sizes and an archive's own directory."""

from __future__ import annotations

import os
import stat
from dataclasses import dataclass
from pathlib import PurePosixPath
from typing import TYPE_CHECKING

from rigledger.contract.load import load_contract
from rigledger.errors import RigledgerError
from rigledger.intake.archive import unpack
from rigledger.intake.limits import limit, megabytes, named
from rigledger.intake.log import FindingLog
from rigledger.intake.names import clashes, is_junk, name_problem
from rigledger.intake.packed import is_packed_capture, unpacked
from rigledger.intake.text import printable
from rigledger.signing import UNSIGNED

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.findings import Finding

_SIZES = {
    ".toml": "files.toml_kb",
    ".csv": "files.table_mb",
    ".parquet": "files.table_mb",
    ".xlsx": "files.workbook_mb",
}
_ARCHIVES = {".zip", ".7z", ".rar", ".tar", ".tgz", ".bz2", ".xz", ".cab", ".iso"}
_PACKED = {".gz", ".zst"}
_PACKED_LESS = "Hand in the capture without packing it, and of one run alone."
_PROGRAMS = {
    ".exe", ".dll", ".bat", ".cmd", ".com", ".scr", ".ps1", ".vbs", ".js", ".jar", ".sh",
    ".py", ".lnk", ".url",
    ".xlsm", ".xlsb", ".xls", ".docm", ".app", ".apk", ".so", ".dylib", ".hta", ".reg", ".pif",
}  # fmt: skip
_TEXTS = {".txt", ".md", ".tsv", ".json", ".log"}


class IntakeError(RigledgerError, ValueError):
    """What was to be checked is not there, or is nothing that a set can be."""

    code = "intake"


@dataclass(frozen=True, slots=True)
class GateResult:
    """What the gate let through.

    Attributes:
        folder: Folder that holds the files; None where nothing may be opened.
        files: Paths below the folder, sorted, in POSIX form.
        findings: Every refusal.
    """

    folder: Path | None
    files: tuple[str, ...]
    findings: list[Finding]


def inspect(path: Path, scratch: Path, *, count_unpacked: bool = True) -> GateResult:
    """Decide what of a handed-in set may be opened.

    Args:
        path: A folder, a .zip archive or one .xlsx workbook.
        scratch: An empty folder of ours; archives are unpacked there and nowhere else.
        count_unpacked: Whether packed captures are unpacked to see what they come to; only a set
            that was judged before can do without.

    Returns:
        The folder to read from, its files, and the findings.

    Raises:
        IntakeError: There is nothing at ``path``, or it is no folder, archive or workbook.
    """
    log = FindingLog(load_contract())
    _refuse_unreadable_path(path)
    if path.is_symlink():
        log.add("link_in_set", "the set itself is a link", file=printable(path.name))
        return GateResult(None, (), log.findings)
    folder = _folder_of(path, scratch, log)
    files = _judge_folder(folder, log) if folder else ()
    if folder and count_unpacked and not log.errors:
        _judge_unpacked(folder, files, log)
    return GateResult(None if log.errors else folder, files, log.findings)


def _refuse_unreadable_path(path: Path) -> None:
    try:
        str(path.absolute()).encode("utf-8")
    except UnicodeEncodeError as error:
        raise IntakeError(
            "the path holds bytes that are no text, and the database can't open it",
            file=printable(str(path)),
            next_step="rename the file or folder with plain letters, digits and hyphens",
        ) from error


def _folder_of(path: Path, scratch: Path, log: FindingLog) -> Path | None:
    if path.is_dir():
        return path
    kind = path.suffix.lower()
    if not path.is_file():
        raise IntakeError("there is no such file or folder", file=printable(str(path)))
    if kind == ".zip":
        into = scratch / "unpacked"
        into.mkdir()
        return _inner(into) if unpack(path, into, log) else None
    if kind == ".xlsx":
        return _alone(path, scratch, log)
    raise IntakeError(
        "a set is a folder, a .zip archive or one .xlsx workbook",
        file=path.name,
        next_step="give the folder that holds result-set.toml, or the filled kit",
    )


def _inner(folder: Path) -> Path:
    """Step into the one folder that an archiving program wraps around the files."""
    held = list(folder.iterdir())
    return held[0] if len(held) == 1 and held[0].is_dir() else folder


def _alone(path: Path, scratch: Path, log: FindingLog) -> Path | None:
    """Copy one workbook into a folder of its own, so that a set always is a folder."""
    _judge_size(path.stat().st_size, path.name, log)
    if log.errors:
        return None
    into = scratch / "workbook"
    into.mkdir()
    (into / path.name).write_bytes(path.read_bytes())
    return into


def _judge_folder(folder: Path, log: FindingLog) -> tuple[str, ...]:
    names = _walk(folder)
    if len(names) > limit("folder.entries"):
        text = f"the set has more files than {named('folder.entries')}"
        log.add("set_too_large", text)
        return ()
    for name, earlier in clashes(names):
        text = f"the name is the same as {printable(earlier)!r} on systems that ignore case"
        log.add("name_twice", text, file=printable(name))
    files = [name for name, seen in names.items() if _judge_file(name, seen, log)]
    total = sum(names[name].st_size for name in files)
    if total > megabytes("folder.total_mb"):
        log.add("set_too_large", f"the files have {total} bytes, beyond {named('folder.total_mb')}")
    return tuple(files)


def _judge_unpacked(folder: Path, files: tuple[str, ...], log: FindingLog) -> None:
    """Count what packed captures unpack to, until the set comes to more than its limit."""
    packed = [name for name in files if is_packed_capture(name)]
    left = megabytes("folder.total_mb")
    left -= sum((folder / name).stat().st_size for name in files) if packed else 0
    for name in packed:
        found = unpacked(folder / name, left)
        left -= found.size
        if found.problem:
            log.add(*found.problem, file=printable(name), next_step=_PACKED_LESS)
        if left < 0:
            return


def _walk(folder: Path) -> dict[str, os.stat_result]:
    """List everything below a folder without following a link, sorted; stops beyond the limit."""
    names: dict[str, os.stat_result] = {}
    waiting = [(str(folder), "")]
    while waiting and len(names) <= limit("folder.entries"):
        place, before = waiting.pop()
        with os.scandir(place) as entries:
            items = list(entries)
        for item in items:
            name = before + item.name
            if item.is_dir(follow_symlinks=False) and name.count("/") <= limit("names.depth"):
                waiting.append((item.path, f"{name}/"))
            elif not is_junk(name):
                names[name] = item.stat(follow_symlinks=False)
    return dict(sorted(names.items()))


def _judge_file(name: str, seen: os.stat_result, log: FindingLog) -> bool:
    """Judge one file; says whether it is there to be read."""
    shown = printable(name)
    if stat.S_ISLNK(seen.st_mode):
        log.add("link_in_set", "the file is a link", file=shown)
        return False
    if not stat.S_ISREG(seen.st_mode):
        log.add("special_file", "this is no ordinary file, or lies too deep", file=shown)
        return False
    problem = name_problem(name)
    if problem:
        log.add(problem[0], problem[1], file=shown)
    _judge_kind(name, log)
    _judge_size(seen.st_size, name, log)
    return True


def _judge_kind(name: str, log: FindingLog) -> None:
    suffix = "." + name.lower().rsplit(".", 1)[-1] if "." in name else ""
    shown = printable(name)
    if is_packed_capture(name):
        return
    if suffix in _PACKED:
        text = "of a set's files, only captures may be packed, as name.csv.gz or name.csv.zst"
        log.add("archive_in_archive", text, file=shown)
    elif suffix in _ARCHIVES:
        log.add("archive_in_archive", "archives inside a set are not opened", file=shown)
    elif suffix in _PROGRAMS:
        log.add("program_in_set", f"{suffix} files can be run, or can hold programs", file=shown)
    elif suffix not in _SIZES and suffix not in _TEXTS and name not in UNSIGNED:
        log.add("file_not_used", "no part of a set is read from this kind of file", file=shown)


def _judge_size(size: int, name: str, log: FindingLog) -> None:
    key = _SIZES.get(PurePosixPath(name).suffix.lower(), "files.capture_mb")
    most = limit(key) * 1024 if key.endswith("_kb") else megabytes(key)
    if size > most:
        text = f"the file has {size} bytes, beyond {named(key)}"
        log.add("file_too_large", text, file=printable(name))
