"""CSV and TOML that lie about their encoding, swallow rows, or spell numbers misleadingly."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hostile_case import Case

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator


def encoded(codec: str, *, mark: bytes = b"") -> Callable[[bytes], bytes]:
    return lambda data: mark + data.decode().replace("read-out", "Übersicht", 1).encode(codec)


def swap(old: str, new: str | bytes, times: int = 1) -> Callable[[bytes], bytes]:
    put = new if isinstance(new, bytes) else new.encode()
    return lambda data: data.replace(old.encode(), put, times)


BYTES: dict[str, tuple[str | None, Callable[[bytes], bytes]]] = {
    "utf-16 with its mark": ("encoding_not_stated", encoded("utf-16")),
    "utf-16 without a mark": ("encoding_not_stated", encoded("utf-16-le")),
    "utf-32": ("encoding_not_stated", encoded("utf-32")),
    "latin-1": ("encoding_not_stated", encoded("latin-1")),
    "shift-jis": ("encoding_not_stated", lambda data: data + "表".encode("shift-jis")),
    "cut in the middle of a character": ("encoding_not_stated", lambda data: data[:-1] + b"\xc3\n"),
    "cut in the middle of the last character": ("encoding_not_stated", lambda d: d + b"\xe2\x82"),
    "overlong utf-8": ("encoding_not_stated", swap("141.3", b"\xc0\xb1")),
    "half a surrogate": ("encoding_not_stated", swap("141.3", b"\xed\xa0\x80")),
    "utf-8 with its mark": (None, encoded("utf-8", mark=b"\xef\xbb\xbf")),
    "nul byte": ("nul_byte", swap("141.3", b"141.3\x00")),
    "only nul bytes": ("nul_byte", lambda _: b"\x00" * 1000),
    "empty": ("empty_file", lambda _: b""),
    "one line end": ("header_missing", lambda _: b"\n"),
    "header only": ("no_rows", lambda data: data.split(b"\n")[0] + b"\n"),
    "header without line end": ("no_rows", lambda data: data.split(b"\n")[0]),
    "no header": ("header_missing", lambda data: data.split(b"\n", 1)[1]),
    "no line end at the end": (None, lambda data: data.rstrip(b"\n")),
    "windows line ends": (None, lambda data: data.replace(b"\n", b"\r\n")),
    "old line ends": (None, lambda data: data.replace(b"\n", b"\r")),
    "a bare carriage return in a cell": ("ragged_row", swap("harbour-dawn", "harb\rour-dawn")),
    "blank lines at the end": (None, lambda data: data + b"\n\n\n"),
    "rows of commas at the end": (None, lambda data: data + b"," * 13 + b"\n" + b"," * 13 + b"\n"),
    "semicolons": ("delimiter_not_stated", lambda data: data.replace(b",", b";")),
    "tabs": ("delimiter_not_stated", lambda data: data.replace(b",", b"\t")),
    "bars": ("delimiter_not_stated", lambda data: data.replace(b",", b"|")),
    "a line that states the delimiter": ("header_missing", lambda data: b"sep=,\n" + data),
    "quote never closed": ("stray_quote", swap("harbour-dawn", '"harbour-dawn')),
    "quote closed rows later": ("stray_quote", lambda d: swap("x8", 'x8"')(swap("x16", '"x16')(d))),
    "text behind a quote": ("stray_quote", swap("harbour-dawn", '"harbour"-dawn')),
    "a row cut short": ("ragged_row", swap("141.3,96.4", "141.3")),
    "a row too long": ("ragged_row", swap("141.3,96.4", "141.3,96.4,1,2")),
    "a comma in a number": ("ragged_row", swap("141.3", "1,413.0")),
    "a cell of a megabyte": ("too_long", swap("read-out", "x" * 1_000_000)),
    "a cell of ten megabytes": ("too_long", swap("read-out", "x" * 10_000_000)),
    "a cell of twenty megabytes": ("stray_quote", swap("read-out", "x" * 20_000_000)),
    "three hundred columns": ("table_too_large", swap("rig,", "rig," + "a,b,c," * 100)),
    "a column twice": ("duplicate_column", swap("level_check", "level")),
    "a header in capitals": ("misspelt_column", swap("average_fps", "AVERAGE_FPS")),
    "a header with a space": ("misspelt_column", swap("average_fps", "average_fps ")),
    "an unknown metric": ("unknown_metric", swap("low_1pct_rank_fps", "slowest_tenth_fps")),
    "a column without a name": ("missing_column", swap("level_state,", ",")),
    "random bytes": ("encoding_not_stated", lambda _: bytes(range(128, 256)) * 50),
    "a program": ("encoding_not_stated", lambda _: b"MZ\x90\x00" + b"\xff" * 400),
    "a web page": ("header_missing", lambda _: b"<html><script>alert(1)</script></html>\n"),
}  # fmt: skip

CELLS: dict[str, tuple[str | None, str, str, str]] = {
    "not a number": ("type_spelling", "runs", "average_fps", "NaN"),
    "infinity": ("type_spelling", "runs", "average_fps", "inf"),
    "minus infinity": ("type_spelling", "runs", "average_fps", "-Infinity"),
    "beyond a double": ("out_of_bounds", "runs", "average_fps", "1e400"),
    "below a double": ("out_of_bounds", "runs", "average_fps", "1e-400"),
    "a long exponent": ("out_of_bounds", "runs", "average_fps", "1e999999999999"),
    "hexadecimal": ("type_spelling", "runs", "average_fps", "0x10"),
    "underscores": ("type_spelling", "runs", "average_fps", "1_00.0"),
    "a plus": ("type_spelling", "runs", "average_fps", "+141.3"),
    "no digit behind the point": ("type_spelling", "runs", "average_fps", "141."),
    "no digit before the point": ("type_spelling", "runs", "average_fps", ".5"),
    "a space in front": ("type_spelling", "runs", "average_fps", " 141.3"),
    "a hard space": ("type_spelling", "runs", "average_fps", "141.3\u00a0"),
    "thousands points": ("type_spelling", "runs", "average_fps", "1.413.000"),
    "a true minus sign": ("type_spelling", "runs", "average_fps", "\u22123.1"),
    "arabic digits": ("type_spelling", "runs", "average_fps", "١٤١"),
    "full-width digits": ("type_spelling", "runs", "average_fps", "１４１"),
    "a fraction sign": ("type_spelling", "runs", "average_fps", "½"),
    "a unit": ("type_spelling", "runs", "average_fps", "141.3 fps"),
    "a dash for nothing": ("type_spelling", "runs", "average_fps", "-"),
    "a thousand digits": ("out_of_bounds", "runs", "average_fps", "9" * 1000),
    "a fraction for a whole number": ("type_spelling", "runs", "pass", "59.6"),
    "an exponent for a whole number": ("type_spelling", "runs", "pass", "1e3"),
    "leading zeros": ("type_spelling", "runs", "pass", "007"),
    "beyond sixty-four bits": ("out_of_bounds", "runs", "pass", "99999999999999999999"),
    "a day that is none": ("type_spelling", "sessions", "started_on", "2026-02-30"),
    "a month that is none": ("type_spelling", "sessions", "started_on", "2026-13-01"),
    "a day with points": ("type_spelling", "sessions", "started_on", "05.10.2026"),
    "a day as a spreadsheet counts": ("type_spelling", "sessions", "started_on", "46300"),
    "the hour twenty-five": ("type_spelling", "runs", "started_at", "2026-10-05T25:00:00Z"),
    "letters that look the same": ("pattern_mismatch", "runs", "level", "\u04451\u0431"),
    "a zero-width space in a name": ("pattern_mismatch", "runs", "level", "x16\u200b"),
    "a line end behind a name": ("pattern_mismatch", "runs", "level", "x16\n"),
    "text turned around in a version": (
        "hidden_characters", "sessions", "driver_version", "551\u202e01",
    ),
    "a zero-width joiner in a version": (
        "hidden_characters", "sessions", "driver_version", "551\u200d.10",
    ),
    "an escape sequence": ("hidden_characters", "runs", "level_check", "\x1b[2J"),
    "a formula": ("formula_in_text", "runs", "level_check", '=HYPERLINK("http://x","y")'),
    "a command behind a formula sign": ("formula_in_text", "sessions", "profile", "@SUM(1+1)|cmd"),
    "a negative number in a text": (None, "runs", "level_check", "-3.1"),
    "an e-mail address": ("personal_data", "runs", "level_check", "ask anna@example.org"),
    "a home folder": ("personal_data", "runs", "level_check", "/home/anna/log.txt"),
    "a serial number": ("personal_data", "rigs", "card_unit", "S/N: 0423918005521"),
    "a path as a capture": (
        "capture_outside_set", "runs", "capture_file", "../../study/study.toml",
    ),
    "an absolute path as a capture": ("capture_outside_set", "runs", "capture_file", "/etc/passwd"),
    "an address as a capture": (
        "capture_outside_set", "runs", "capture_file", "http://127.0.0.1/x.csv",
    ),
    "a pattern as a capture": ("capture_outside_set", "runs", "capture_file", "captures/*.csv"),
    "a capture that is not there": ("capture_missing", "runs", "capture_file", "captures/1.csv"),
    "a quote for the database": ("pattern_mismatch", "runs", "level", "x16'; DROP TABLE runs; --"),
}  # fmt: skip

TOML: dict[str, tuple[str | None, str]] = {
    "an open string": ("toml_error", '\nx = "'),
    "a key twice": ("toml_error", '\nset = "a"\nset = "b"\n'),
    "lists in lists": ("toml_error", "\nx = " + "[" * 5000 + "]" * 5000),
    "a huge number": ("toml_error", "\nx = " + "9" * 5000),
    "an unknown part": ("unknown_key", '\n[include]\nfile = "/etc/passwd"\n'),
    "a list for a value": ("toml_value", '\n[same_for_all_runs]\nlevel = ["x16"]\n'),
    "a part for a value": ("toml_value", "\n[same_for_all_runs.level]\na = 1\n"),
    "a value for a part": ("toml_value", "\n[same_for_workload]\nx = 1\n"),
    "an unknown delimiter": ("toml_value", '\n[files]\ndelimiter = "ab"\n'),
    "an unknown encoding": ("toml_value", '\n[files]\nencoding = "utf-7"\n'),
    "code for a unit": ("unknown_unit", '\n[units]\naverage_fps = "__import__(\'os\')"\n'),
    "arithmetic for a unit": ("unknown_unit", '\n[units]\naverage_fps = "9**9**9 fps"\n'),
    "a unit of another kind": ("unknown_unit", '\n[units]\naverage_fps = "GB"\n'),
    "an unknown column for a unit": ("unknown_key", '\n[units]\nfps = "ms"\n'),
    "a version without quotes": (
        "number_in_version_column", "\n[same_for_all_sessions]\ndriver_version = 551.10\n",
    ),
    "a value stated twice": ("stated_twice", '\n[same_for_all_runs]\nlevel = "x8"\n'),
    "a quote in a constant": ("stated_twice", '\n[same_for_all_runs]\nlevel = "x\'); DROP"\n'),
    "captures without a column": ("captures_declaration", '\n[captures]\nunit = "ms"\n'),
}  # fmt: skip


def cases() -> Iterator[Case]:
    for name, (rule, change) in BYTES.items():
        yield Case(f"csv: {name}", rule, change=("runs.csv", change))
    captures = '\n[captures]\nframe_time_column = "ms"\nunit = "ms"\n'
    for name, (rule, table, column, value) in CELLS.items():
        yield Case(
            f"cell: {name}",
            rule,
            cell=(table, column, value),
            manifest=captures if column == "capture_file" else "",
        )
    for name, (rule, more) in TOML.items():
        yield Case(f"toml: {name}", rule, manifest=more)
    toml = "result-set.toml"
    yield Case("toml: not utf-8", "toml_error", change=(toml, swap("Anna", b"\xff\xfe")))
    yield Case("toml: nul byte", "toml_error", change=(toml, lambda data: data + b"\x00"))
    yield Case("toml: empty", "missing_column", files={toml: b"[set]\n"})
    yield Case("toml: missing", "manifest_missing", files={toml: None})
    large = b"# " + b"x" * 300_000
    yield Case("toml: too large", "file_too_large", change=(toml, lambda data: data + large))
    yield Case("csv: missing", "table_missing", files={"runs.csv": None})
    yield Case("csv: handed in twice", "table_twice", files={"runs.parquet": b"PAR1"})
    for name, data, rule in (
        ("nothing", b"", "capture_empty"),
        ("a header only", b"ms\n", "capture_empty"),
        ("another column", b"us\n1\n", "capture_column_missing"),
        ("not a number", b"ms\nNaN\n", "capture_not_finite"),
        ("minus times", b"ms\n-7\n", "capture_not_positive"),
        ("words", b"ms\nseven\n", "capture_not_a_number"),
    ):
        yield Case(
            f"capture: {name}",
            rule,
            cell=("runs", "capture_file", "captures/1.csv"),
            manifest=captures,
            files={"captures/1.csv": data},
        )
