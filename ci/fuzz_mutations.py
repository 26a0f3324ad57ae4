"""Valid result sets in four forms, and the ways in which fuzzing spoils them."""

from __future__ import annotations

import csv
import datetime as dt
import io
import tempfile
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigledger.contract import load_contract
from rigledger.study.design import read_design
from rigledger.study.kit_folder import kit_files
from rigledger.study.kit_model import Kit, Tester, make_kit
from rigledger.study.kit_xlsx import write_kit_xlsx
from rigledger.study.sheet import make_sheet, rigs_of

if TYPE_CHECKING:
    from collections.abc import Callable
    from random import Random

Files = dict[str, bytes]
"""A set as paths and bytes; an archive or workbook is one path."""

FORMS = ("folder", "zip", "xlsx", "parquet")
TABLES = ("rigs", "sessions", "runs")
WORKLOADS = ("vostrel-marsh", "thrumgate-88", "sentinel-sphere")
RIG = {"platform_unit": "bench-1", "card_unit": "card-a", "hardware_from": "bought"}
SESSION = {
    "firmware_version": "2.14", "driver_version": "551.10", "card_firmware_version": "none",
    "os": "desktop-os 11", "os_build": "26100.2314", "memory_speed_mts": 6000, "profile": "default",
}  # fmt: skip
RUN = {"title_build": "1.0.4", "level_state": "effective", "level_check": "status read-out"}
CELLS = (
    "", " ", "0", "-1", "1e308", "1e-320", "NaN", "inf", "1_000", "+5", "12,5", "1.234,5", "٣",
    "0x10", "=1+1", "=cmd|'/c x'!A1", "@SUM(A1)", "-3.1", "true", "null", "2026-02-30",
    "12.05.2026", "9999-12-31", "0000-00-00", "2026-10-25T02:30:00", "a\nb", 'a"b', "\u202eabc",
    "\ufeff", "\x07",
    "e\u0301", "\U0001f9ea", "x" * 20000, "9" * 400, "../../x", "C:\\x", "http://example.org/x.csv",
    "'; DROP TABLE runs; --", "{}", "$x", "%s", "\ud7ff", "x16", "measured", "not_possible",
)  # fmt: skip
LINES = (
    "[files]", 'delimiter = ";"', 'decimal = ","', 'encoding = "utf-16"', 'encoding = "idna"',
    "[units]", 'average_fps = "ms"', 'average_fps = "parsec"', "[captures]", "pattern = '('",
    "pattern = '{run}.csv'", "[same_for_all_runs]", 'level = "x16"', "title_build = 1.10",
    "[same_for_workload.vostrel-marsh]", "[set]", "set = []", "set = {}", "x = nan", "x = 1e400",
    "[[cards]]", "[[platforms]]", 'card = "new"', 'set = """', "a.b.c = 1", "d = 2026-02-30",
    "d = 0001-01-01T00:00:00Z", "[" * 400, "x = " + "[" * 3000, "n = 0x" + "f" * 5000, "\x00", "=",
)  # fmt: skip
MARKUP = (
    b"e", b"s", b"d", b"b", b"99999", b"XFD1048576", b"-1", b"v/>", b"!DOCTYPE a>", b"&#x0;",
)  # fmt: skip
NAMES = (
    "../runs.csv", "/runs.csv", "C:\\runs.csv", "..\\runs.csv", "RUNS.CSV", "nul", "con.csv",
    "runs.csv ", "runs.csv.", "a/" * 60 + "x", "r\u202ensv.csv", "runs.xlsx", "cards.csv", "x.zip",
    "captures/1.csv", "sub/result-set.toml", "x" * 300, "a\x00b", "", "runs.csv/", "é.csv",
)  # fmt: skip


def make_bases(study: Path) -> dict[str, Files]:
    """Make the valid sets: a kit of the study for one rig and two titles, filled in."""
    kit = filled_kit(study)
    plain = {name: text.encode("utf-8") for name, text in kit_files(kit).items()}
    lines = plain["result-set.toml"].decode("utf-8").splitlines()
    said = "\n".join(line for line in lines if not line.startswith("#")) + "\n"
    plain = {"result-set.toml": said.encode("utf-8")} | {
        f"{name}.csv": plain[f"{name}.csv"] for name in TABLES
    }
    with tempfile.TemporaryDirectory() as folder:
        write_kit_xlsx(Path(folder) / "kit.xlsx", kit)
        book = (Path(folder) / "kit.xlsx").read_bytes()
    return {
        "folder": plain,
        "zip": {"set.zip": zipped(plain)},
        "xlsx": {"kit.xlsx": book},
        "parquet": parquet(plain),
    }


def filled_kit(study: Path) -> Kit:
    """Fill in what a tester would, with spread and last digits enough not to look made up."""
    design = read_design(study)
    rigs = rigs_of(design, platforms=["q3"], cards=["brankelo-52"])
    tester = Tester("anna", "autumn-1", "Anna", "+01:00")
    kit = make_kit(design, load_contract(), rigs, make_sheet(design, rigs), tester=tester)
    sessions = [
        row | SESSION | {"started_on": dt.date(2026, 10, row["boot"])}
        for row in kit.table("sessions").rows
    ]
    kept = (row for row in kit.table("runs").rows if row["workload"] in WORKLOADS)
    runs = [_measured(place, row) for place, row in enumerate(kept)]
    filled = kit.with_rows("rigs", [row | RIG for row in kit.table("rigs").rows])
    return filled.with_rows("sessions", sessions).with_rows("runs", runs)


def _measured(place: int, row: dict[str, Any]) -> dict[str, Any]:
    average = round(100 + (place * 37 % 17) / 10, 1)
    low = round(average * 0.7 - (place * 29 % 13) / 10, 1)
    return row | RUN | {"average_fps": average, "low_1pct_rank_fps": low}


def zipped(files: Files) -> bytes:
    """Pack files into an archive."""
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, data in files.items():
            packed.writestr(zipfile.ZipInfo(name), data, zipfile.ZIP_DEFLATED, 1)
    return held.getvalue()


def unzipped(data: bytes) -> Files:
    """Unpack an archive of our own making."""
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


def rows_of(data: bytes) -> list[list[str]]:
    """Read CSV text into rows."""
    return list(csv.reader(io.StringIO(data.decode("utf-8"), newline="")))


def text_of(rows: list[list[str]], delimiter: str = ",", end: str = "\n") -> bytes:
    """Write rows as CSV text."""
    held = io.StringIO(newline="")
    csv.writer(held, delimiter=delimiter, lineterminator=end).writerows(rows)
    return held.getvalue().encode("utf-8", "surrogatepass")


def parquet(plain: Files) -> Files:
    """Write a set's tables as Parquet, all text."""
    import polars as pl

    held = {"result-set.toml": plain["result-set.toml"]}
    for name in TABLES:
        header, *rows = rows_of(plain[f"{name}.csv"])
        table = pl.DataFrame(rows, schema=dict.fromkeys(header, pl.String), orient="row")
        stream = io.BytesIO()
        table.write_parquet(stream)
        held[f"{name}.parquet"] = stream.getvalue()
    return held


def mutated(base: Files, form: str, random: Random) -> Files:
    """Give a set spoiled in one to four ways; the same random numbers give the same set."""
    inner = unzipped(next(iter(base.values()))) if form in {"zip", "xlsx"} else dict(base)
    if form not in {"zip", "xlsx"} or random.random() < 0.7:
        for _ in range(random.randint(1, 4)):
            random.choice(WAYS[form])(inner, random)
    if form not in {"zip", "xlsx"}:
        return inner
    (name,) = base
    data = zipped(inner)
    return {name: spoiled_bytes(data, random) if random.random() < 0.45 else data}


def spoiled_bytes(data: bytes, random: Random) -> bytes:
    """Flip, cut, double, insert or overwrite bytes."""
    held = bytearray(data)
    for _ in range(random.choice((1, 1, 2, 8, 64))):
        at = random.randrange(len(held) + 1)
        length = min(random.choice((1, 2, 4, 16, 200)), len(held) - at)
        match random.randrange(6):
            case 0 if at < len(held):
                held[at] ^= 1 << random.randrange(8)
            case 1:
                del held[at : at + length]
            case 2:
                held[at:at] = held[at : at + length]
            case 3:
                held[at:at] = random.choice((b"\x00", b"\xff\xfe", b'"', b"\r", b"\xc3", b"\n\n"))
            case 4:
                held[at : at + length] = random.randbytes(length)
            case 5 if random.random() < 0.2:
                del held[at:]
    return bytes(held)


def _bytes(files: Files, random: Random) -> None:
    name = random.choice(list(files))
    files[name] = spoiled_bytes(files[name], random)


def _table(files: Files, random: Random) -> tuple[str, list[list[str]]] | None:
    names = [name for name in files if name.endswith(".csv")]
    name = random.choice(names) if names else ""
    try:
        rows = rows_of(files[name]) if names else []
    except (UnicodeDecodeError, csv.Error):
        return None
    return (name, rows) if rows and rows[0] else None


def _cell(files: Files, random: Random) -> None:
    if held := _table(files, random):
        name, rows = held
        for _ in range(random.choice((1, 1, 3, 30))):
            row = random.choice(rows[1:] or rows)
            if row:
                row[random.randrange(len(row))] = random.choice(CELLS)
        files[name] = text_of(rows)


def _column(files: Files, random: Random) -> None:
    """One column of one word all the way down, or with another column's cells."""
    if held := _table(files, random):
        name, rows = held
        at, other = (random.randrange(len(rows[0])) for _ in range(2))
        word = random.choice((None, *CELLS))
        for row in rows[1:]:
            if max(at, other) < len(row):
                row[at] = row[other] if word is None else word
        files[name] = text_of(rows)


def _header(files: Files, random: Random) -> None:
    if held := _table(files, random):
        name, rows = held
        at = random.randrange(len(rows[0]))
        near = rows[0][at][:-1], rows[0][at].upper(), rows[0][0], "low_1pct_ms", "fps"
        rows[0][at] = random.choice((*near, *CELLS))
        files[name] = text_of(rows)


def _rows(files: Files, random: Random) -> None:
    if held := _table(files, random):
        name, rows = held
        match random.randrange(5):
            case 0:
                del rows[random.randrange(len(rows)) :]
            case 1:
                rows += rows[1:] * random.choice((1, 3))
            case 2:
                random.choice(rows).extend(random.choices(CELLS, k=3))
            case 3:
                del random.choice(rows)[-1:]
            case 4:
                rows.insert(random.randrange(len(rows)), [])
        files[name] = text_of(rows)


def _dialect(files: Files, random: Random) -> None:
    if held := _table(files, random):
        name, rows = held
        mark, end = random.choice(",;\t|"), random.choice(("\n", "\r\n", "\r"))
        text = text_of(rows, mark, end).decode("utf-8", "surrogatepass")
        code = random.choice(("utf-8", "utf-8-sig", "utf-16", "utf-32", "cp1252", "cp437"))
        files[name] = text.encode(code, "replace")


def _toml(files: Files, random: Random) -> None:
    lines = files.get("result-set.toml", b"").decode("utf-8", "replace").split("\n")
    for _ in range(random.randint(1, 4)):
        at = random.randrange(len(lines) + 1)
        match random.randrange(4):
            case 0:
                lines.insert(at, random.choice(LINES))
            case 1:
                lines.append(random.choice(LINES))
            case 2:
                del lines[at : at + 1]
            case 3 if at < len(lines) and "=" in lines[at]:
                key = lines[at].partition("=")[0]
                lines[at] = f"{key}= {random.choice(('1', 'true', '[]', '1.5', 'nan', '{}'))}"
    files["result-set.toml"] = "\n".join(lines).encode("utf-8", "surrogatepass")


def _file(files: Files, random: Random) -> None:
    """A file gone, empty, under another name, or one of another's bytes."""
    name, other = (random.choice(list(files)) for _ in range(2))
    match random.randrange(4):
        case 0 if len(files) > 1:
            del files[name]
        case 1:
            files[name] = b""
        case 2:
            files[name] = files[other]
        case 3:
            suffix = random.choice((".csv", ".parquet", ".xlsx", ".toml", ".txt"))
            files[name.rpartition(".")[0] + suffix] = files[name]


def _name(files: Files, random: Random) -> None:
    files[random.choice(NAMES)] = files[random.choice(list(files))]


def _part(files: Files, random: Random) -> None:
    """Change the text of a workbook's part: an attribute, an element, a value."""
    name = random.choice([name for name in files if name.endswith((".xml", ".rels"))] or [*files])
    sign = random.choice((b'"', b"<", b">", b" "))
    pieces = files[name].split(sign)
    at = random.randrange(len(pieces))
    words = [cell.encode("utf-8", "surrogatepass") for cell in CELLS]
    pieces[at] = random.choice([*words, *MARKUP])
    files[name] = sign.join(pieces)


_PLAIN: tuple[Callable[[Files, Random], None], ...] = (
    _bytes, _cell, _cell, _cell, _column, _header, _rows, _dialect, _toml, _toml, _file,
)  # fmt: skip
WAYS: dict[str, tuple[Callable[[Files, Random], None], ...]] = {
    "folder": _PLAIN,
    "zip": (*_PLAIN, _name, _name, _name),
    "xlsx": (_part, _part, _part, _bytes, _file),
    "parquet": (_bytes, _bytes, _toml, _file),
}
