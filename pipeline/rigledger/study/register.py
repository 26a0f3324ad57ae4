"""A register: platforms, cards and workloads that several studies share."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rigledger.study.section import Section, read_row, read_toml

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.contract import Contract

_KEYS = {"platforms": "platform", "cards": "card", "workloads": "workload"}


def with_register(study: Section, path: Path, contract: Contract) -> Section:
    """Give study.toml with the rows of its register behind its own.

    Args:
        study: study.toml as read.
        path: Where it was read from; the register's path is relative to it.
        contract: The contract.

    Returns:
        The same where it names no register; else a section that names none and holds the rows
        itself.

    Raises:
        StudyError: The register is missing, names something else, lacks a row that is named, or
            has a row of the same name as the study with other content.
    """
    if "register" not in study.held:
        return study
    asked = study.part("register")
    row = read_row(asked, contract.table("study", "register"), lists=tuple(_KEYS))
    shared = read_toml(path.parent / row["file"])
    shared.refuse_unknown(_KEYS)
    merged = {name: _merge(study, asked, shared, name) for name in _KEYS}
    kept = {key: value for key, value in study.held.items() if key != "register"}
    return Section(study.file, "", kept | {name: rows for name, rows in merged.items() if rows})


def _merge(study: Section, asked: Section, shared: Section, name: str) -> list[dict[str, Any]]:
    key = _KEYS[name]
    own = {item.held.get(key): item for item in study.parts(name)}
    offered = {item.held.get(key): dict(item.held) for item in shared.parts(name)}
    asked.one_of(name, [str(known) for known in offered], what=key)
    wanted = asked.held.get(name, list(offered))
    for known in wanted:
        if known in own and dict(own[known].held) != offered[known]:
            own[known].fail(key, f"differs from the row {known!r} of {shared.file}")
    return [dict(item.held) for item in own.values()] + [
        offered[known] for known in wanted if known not in own
    ]
