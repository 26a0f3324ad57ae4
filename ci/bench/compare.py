"""What a change did to the figures of a benchmark.

Usage: python ci/bench/compare.py before.json after.json

Both files were written with ``--json`` by the same benchmark, before and after the change. Seconds
from another machine or a busy one can't be compared; ratios to a baseline of the same run can. Exit
code 1 where a figure that kept its bound no longer does.
"""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path
from typing import Any

# Two runs of the same program on the same machine differ by about as much; a usual range.
NOISE = 0.1
MEASURED = {"s", "x", "MB", "MiB"}
# All other figures follow from seeds: what differs by more than is printed follows from the change.
PRINTED = 0.0005


def main() -> int:
    """Print each figure before and after."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("before", type=Path)
    parser.add_argument("after", type=Path)
    given = parser.parse_args()
    before, after = (json.loads(path.read_text("utf-8")) for path in (given.before, given.after))
    for line in differing(before, after):
        print(line)
    lines, lost = compared(before, after)
    print("\n".join(lines))
    if lost:
        print(f"no longer as asked: {'; '.join(lost)}")
    return 1 if lost else 0


def differing(before: dict[str, Any], after: dict[str, Any]) -> list[str]:
    """Say what else is not the same, so that the figures may differ for that reason."""
    parts = ("benchmark", "quick", "machine", "versions")
    return [
        f"note: another {part}: {before.get(part)} -> {after.get(part)}"
        for part in parts
        if before.get(part) != after.get(part)
    ]


def compared(before: dict[str, Any], after: dict[str, Any]) -> tuple[list[str], list[str]]:
    """Give a line a figure, and the names of those that no longer keep their bound."""
    old, new = ({held["name"]: held for held in run["figures"]} for run in (before, after))
    lines = [_line(name, old.get(name), new.get(name)) for name in dict.fromkeys([*old, *new])]
    lost = [
        name
        for name, held in new.items()
        if not _good(held) and (name not in old or _good(old[name]))
    ]
    return lines, lost


def _good(held: dict[str, Any]) -> bool:
    return held["met"] is not False


def _line(name: str, old: dict[str, Any] | None, new: dict[str, Any] | None) -> str:
    if old is None or new is None:
        what, held = ("new", new) if old is None else ("gone", old)
        return f"  {name:58} {what} {held['value']:.3f} {held['unit']}" if held else name
    more = new["value"] - old["value"]
    noise = NOISE * abs(old["value"]) if new["unit"] in MEASURED else PRINTED
    word = "as before" if abs(more) <= noise else "more" if more > 0 else "less"
    # Of nothing there are no per cent.
    share = f"{100 * more / abs(old['value']):+7.1f} %" if old["value"] else f"{more:+9.3f}"
    values = f"{old['value']:9.3f} -> {new['value']:9.3f} {new['unit']:5}"
    return f"  {name:58} {values} {share}  {word}"


if __name__ == "__main__":
    sys.exit(main())
