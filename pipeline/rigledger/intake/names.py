"""What a file inside a set may be called, on every system alike."""

from __future__ import annotations

import re
import unicodedata
from typing import TYPE_CHECKING

from rigledger.intake.limits import limit, named

if TYPE_CHECKING:
    from collections.abc import Iterable

_RESERVED = {"con", "prn", "aux", "nul", "conin$", "conout$"} | {
    f"{stem}{digit}" for stem in ("com", "lpt") for digit in "0123456789¹²³"
}
_ILLEGAL = re.compile(r'[<>:"|?*]')
_DRIVE = re.compile(r"^[A-Za-z]:")
_INVISIBLE = {"Cc", "Cf", "Co", "Cn", "Cs", "Zl", "Zp"}
_JUNK = {".ds_store", "thumbs.db", "desktop.ini"}
_JUNK_STARTS = ("._", "~$", ".~lock.")


def name_problem(name: str) -> tuple[str, str] | None:
    """Say what is wrong with a path inside a set.

    Args:
        name: Path relative to the set, as written; folders may end in ``/``.

    Returns:
        Rule and reason; None where the name is fine.
    """
    return _hidden_characters(name) or _leaves_the_set(name) or _size(name) or _parts(name)


def _hidden_characters(name: str) -> tuple[str, str] | None:
    if name.isascii() and name.isprintable():
        return None
    odd = sorted({char for char in name if unicodedata.category(char) in _INVISIBLE})
    if not odd:
        return None
    codes = ", ".join(f"U+{ord(char):04X}" for char in odd)
    return (
        "name_hidden_characters",
        f"the name holds characters that don't show or that turn text around: {codes}",
    )


def _leaves_the_set(name: str) -> tuple[str, str] | None:
    if "\\" in name:
        return (
            "name_outside_set",
            "the name holds a backslash, which some systems take for a folder",
        )
    if name.startswith("/") or _DRIVE.match(name):
        return "name_outside_set", "the name starts at the root of a disk"
    if ".." in name.split("/"):
        return "name_outside_set", "the name leads out of the set with `..`"
    return None


def _size(name: str) -> tuple[str, str] | None:
    if len(name) > limit("names.length"):
        return (
            "name_too_long",
            f"the name has {len(name)} characters, beyond {named('names.length')}",
        )
    depth = name.rstrip("/").count("/")
    if depth > limit("names.depth"):
        return "name_too_long", f"the file lies {depth} folders deep, beyond {named('names.depth')}"
    return None


def _parts(name: str) -> tuple[str, str] | None:
    for part in name.rstrip("/").split("/"):
        if part in {"", "."}:
            return "name_not_portable", "the name has an empty part"
        if part.split(".")[0].strip().lower() in _RESERVED:
            return "name_not_portable", f"{part!r} is a reserved name on Windows"
        if part[-1] in ". ":
            return "name_not_portable", f"{part!r} ends in a point or a space, which Windows drops"
        if _ILLEGAL.search(part):
            return "name_not_portable", f"{part!r} holds a character that Windows doesn't allow"
    return None


def clashes(names: Iterable[str]) -> list[tuple[str, str]]:
    """Find names that are one file on a system that ignores case or composes accents.

    Returns:
        Pairs of a name and the earlier name it clashes with; equal names count.
    """
    seen: dict[str, str] = {}
    pairs = []
    for name in names:
        folded = unicodedata.normalize("NFC", name.rstrip("/")).casefold()
        if folded in seen:
            pairs.append((name, seen[folded]))
        else:
            seen[folded] = name
    return pairs


def is_junk(name: str) -> bool:
    """Whether a file is one that systems and spreadsheets leave in folders unasked."""
    parts = name.lower().rstrip("/").split("/")
    return parts[0] == "__macosx" or parts[-1] in _JUNK or parts[-1].startswith(_JUNK_STARTS)
