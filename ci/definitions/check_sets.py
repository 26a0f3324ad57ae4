"""Checks every result set in a folder and writes one report for a merge request.

Usage: python check_sets.py [--study .] [--inbox inbox] [--out report]

Exit code 0: nothing was returned. 1: a set was returned, or the folder holds none. Needs rigledger
(`pip install rigledger`) and nothing else.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
from pathlib import Path

# Forges refuse longer comments; the files beside the report hold everything.
LONGEST_COMMENT = 60_000


def sets_in(inbox: Path) -> list[Path]:
    """List what looks like a set: folders with a result-set.toml, archives and workbooks."""
    if not inbox.is_dir():
        return []
    return [path for path in sorted(inbox.iterdir()) if _is_set(path)]


def _is_set(path: Path) -> bool:
    if path.name.startswith((".", "~$")):
        return False
    folder = path.is_dir() and (path / "result-set.toml").is_file()
    return folder or (path.is_file() and path.suffix.lower() in {".zip", ".xlsx"})


def check(path: Path, study: Path, out: Path, number: int) -> tuple[str, bool]:
    """Check one set.

    Returns:
        Its report as Markdown, and whether it can be admitted.
    """
    command = [sys.executable, "-X", "utf8", "-m", "rigledger", "check", str(path)]
    about = ["--study", str(study)]
    # File names come from our own counter: nothing a stranger named reaches a later step.
    files = ["--junit", str(out / f"set-{number}.xml"), "--sarif", str(out / f"set-{number}.sarif")]
    data = subprocess.run(
        [*command, *about, *files, "--json"], capture_output=True, encoding="utf-8", check=False
    )
    text = subprocess.run(
        [*command, *about, "--markdown"], capture_output=True, encoding="utf-8", check=False
    )
    try:
        fine = json.loads(data.stdout).get("verdict") != "returned" and text.returncode < 2
    except (ValueError, AttributeError):
        fine = False
    report = text.stdout if text.returncode < 2 else "The set can't be read as one.\n"
    return report, fine


def main() -> None:
    """Check all sets and write the report."""
    parser = argparse.ArgumentParser(description="Check the result sets of a merge request.")
    parser.add_argument("--study", type=Path, default=Path())
    parser.add_argument("--inbox", type=Path, default=Path("inbox"))
    parser.add_argument("--out", type=Path, default=Path("report"))
    asked = parser.parse_args()
    asked.out.mkdir(parents=True, exist_ok=True)
    held = [
        check(path, asked.study, asked.out, number)
        for number, path in enumerate(sets_in(asked.inbox), start=1)
    ]
    text = "\n\n".join(report for report, _ in held) or "There is no result set in the inbox.\n"
    (asked.out / "report.md").write_text(_bounded(text), encoding="utf-8", newline="\n")
    print(text)
    sys.exit(0 if held and all(fine for _, fine in held) else 1)


def _bounded(text: str) -> str:
    if len(text) <= LONGEST_COMMENT:
        return text
    kept = text[:LONGEST_COMMENT].rsplit("\n", 1)[0]
    return (
        f"{kept}\n\nThe report is longer than a comment may be; the job's files hold all of it.\n"
    )


if __name__ == "__main__":
    main()
