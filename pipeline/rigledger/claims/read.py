"""Reads claims.toml: the review's sentences, checked for what can be seen without the data.

Names of the design (contrasts, metrics, workloads or their titles, levels, title sets) must be
right; rigs, platforms and cards come with result sets, so that a name which isn't there is found
when the claim is judged.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rigledger.claims.model import Claim, Scope
from rigledger.claims.printed import PrintedError, understood
from rigledger.contract import load_contract
from rigledger.errors import near_names
from rigledger.study.section import Section, read_row, read_toml, refuse_doubles

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping
    from pathlib import Path

    from rigledger.claims.model import Dimension
    from rigledger.claims.printed import Printed
    from rigledger.contract import Contract
    from rigledger.study.model import Design

_SCOPE: dict[str, Dimension] = {
    "contrasts": "contrast", "metrics": "metric", "contributors": "contributor",
    "platforms": "platform", "cards": "card", "rigs": "rig", "workloads": "workload",
    "resolutions": "resolution", "levels": "level", "title_sets": "title_set",
}  # fmt: skip
_WITH_VALUE = {
    "change": ("percent", "times"), "largest_change": ("percent", "times"),
    "geometric_mean_change": ("percent", "times"), "rig_difference": ("percent", "times"),
    "value": ("value",),
}  # fmt: skip
# Keys that belong to some quantities only.
_ONLY_FOR = {
    "value": set(_WITH_VALUE),
    "direction": {"change", "largest_change", "geometric_mean_change", "rig_difference", "ranking"},
    "order": {"ranking"},
    "ranked_by": {"ranking"},
    "factor": {"depends_on"},
    "against": {"rig_difference"},
}
_NEEDED = {"value": set(_WITH_VALUE), "order": {"ranking"}, "factor": {"depends_on"},
           "against": {"rig_difference"}}  # fmt: skip
_SCOPE_ONLY_FOR = {"levels": {"value", "rig_difference", "ranking"}}
_SCOPE_NOT_FOR = {
    "contrasts": {"value", "rig_difference"},
    "workloads": {"geometric_mean_change"},
}


def read_claims(path: Path, design: Design, contract: Contract | None = None) -> tuple[Claim, ...]:
    """Read claims.toml; a missing file states none.

    Args:
        path: The file.
        design: The study's design, whose names the claims use.
        contract: The contract; None for this version's.

    Returns:
        The claims in the order of the file, workloads by id.

    Raises:
        StudyError: A key, value or name is wrong: names file, key, value and near names.
    """
    if not path.exists():
        return ()
    return claims_of(read_toml(path), design, contract)


def claims_of(file: Section, design: Design, contract: Contract | None = None) -> tuple[Claim, ...]:
    """Read the claims of a file that was parsed; errors as `read_claims`."""
    contract = contract or load_contract()
    file.refuse_unknown(("claims",))
    sections = file.parts("claims")
    claims = tuple(_claim(section, design, contract) for section in sections)
    refuse_doubles(sections, "claim")
    return claims


def _claim(section: Section, design: Design, contract: Contract) -> Claim:
    table = contract.table("study", "claims")
    row = read_row(
        section, table, defaults={"acknowledged": False}, lists=("order",), also=("scope",)
    )
    quantity = str(row["quantity"])
    _check_keys(section, quantity, _ONLY_FOR, _NEEDED)
    if row["acknowledged"] and not row["reason"]:
        section.fail("reason", "an acknowledged claim says why", next_step="write a reason")
    printed = _printed(section, row, contract)
    order = _order(section, row, design)
    scope = _scope(section, quantity, design, contract)
    held = {key: row[key] for key in row if key not in ("value", "order")}
    claim = Claim(**held, scope=scope, printed=printed, order=order)
    _check_whole(section, claim)
    return claim


def _check_keys(
    section: Section,
    quantity: str,
    only_for: Mapping[str, Collection[str]],
    needed: Mapping[str, Collection[str]],
) -> None:
    for key, quantities in only_for.items():
        if key in section.held and quantity not in quantities:
            section.fail(key, f"means nothing for the quantity {quantity}")
    for key, quantities in needed.items():
        if key not in section.held and quantity in quantities:
            section.fail(key, f"the quantity {quantity} needs it")


def _printed(section: Section, row: Mapping[str, Any], contract: Contract) -> Printed | None:
    if row["value"] is None:
        return None
    step = "write it like 12 %, up to 12 % slower, about 1.5 times, twice as fast or 142 fps"
    try:
        printed = understood(row["value"])
    except PrintedError as error:
        section.fail("value", str(error), next_step=step)
    legal = _WITH_VALUE[row["quantity"]]
    if printed.kind not in legal:
        section.fail("value", f"a {row['quantity']} is stated in {' or '.join(legal)}")
    units = {metric.unit for metric in contract.metrics.values()}
    if printed.unit is not None and printed.unit not in units:
        section.fail(
            "value", f"no unit {printed.unit!r}", next_step=near_names(printed.unit, units)
        )
    if printed.up_to and row["quantity"] != "largest_change":
        step = 'write quantity = "largest_change"'
        section.fail("value", '"up to" states the largest change', next_step=step)
    _check_sense(section, printed, row)
    return printed


def _check_sense(section: Section, printed: Printed, row: Mapping[str, Any]) -> None:
    if printed.kind == "value":
        if printed.sense is not None:
            section.fail("value", "a value has no sign and is neither faster nor slower")
        return
    if printed.sense is None and row["direction"] is None and printed.size > 0:
        step = 'write direction = "gain" or "loss", or a sign or word into the value'
        section.fail("value", "says neither gain nor loss", next_step=step)
    if printed.sense is not None and row["direction"] is not None:
        section.fail("direction", "the value says it already")


def _order(section: Section, row: Mapping[str, Any], design: Design) -> tuple[str, ...]:
    if row["order"] is None:
        return ()
    order: tuple[str, ...] = row["order"]
    if len(order) < 2:
        section.fail("order", "a ranking names two or more")
    rigs = all("." in name for name in order)
    if rigs:
        return order
    section.one_of("order", _workload_names(design), what="rig or workload")
    if row["ranked_by"] != "change":
        step = 'titles are ranked by what the setting does to them: write ranked_by = "change"'
        section.fail("ranked_by", "values of different titles can't be ranked", next_step=step)
    names = tuple(name for one in order for name in _workloads(one, design))
    if len(names) > len(order):
        section.fail("order", "a title with several workloads: name the workload")
    return names


def _scope(section: Section, quantity: str, design: Design, contract: Contract) -> Scope:
    part = section.part("scope")
    table = contract.table("study", "claim_scope")
    row = read_row(part, table, lists=table.field_names)
    legal = {
        "contrasts": [held.contrast for held in design.contrasts],
        "metrics": design.all_metrics,
        "workloads": _workload_names(design),
        "levels": [held.level for held in design.levels],
        "title_sets": [held.title_set for held in design.title_sets],
    }
    for key, names in legal.items():
        part.one_of(key, names, what=_SCOPE[key].replace("_", " "))
    _check_scope_keys(part, quantity)
    if row["workloads"] is not None:
        ids = (name for one in row["workloads"] for name in _workloads(one, design))
        row["workloads"] = tuple(dict.fromkeys(ids))
    return Scope(tuple((_SCOPE[key], row[key]) for key in _SCOPE if row[key] is not None))


def _check_scope_keys(part: Section, quantity: str) -> None:
    for key, quantities in _SCOPE_ONLY_FOR.items():
        if key in part.held and quantity not in quantities:
            part.fail(key, f"a {quantity} is stated for contrasts, not for levels")
    for key, quantities in _SCOPE_NOT_FOR.items():
        if key in part.held and quantity in quantities:
            part.fail(key, f"a {quantity} has no {key}", next_step=_INSTEAD[key])


_INSTEAD = {
    "contrasts": "name scope.levels",
    "workloads": "name scope.title_sets; study.toml declares them",
}


def _workload_names(design: Design) -> list[str]:
    return [name for held in design.workloads for name in (held.workload, held.title)]


def _workloads(name: str, design: Design) -> tuple[str, ...]:
    """Give the workload of an id, or those of a title."""
    ids = tuple(held.workload for held in design.workloads if held.workload == name)
    return ids or tuple(held.workload for held in design.workloads if held.title == name)


def _check_whole(section: Section, claim: Claim) -> None:
    """Check what keys must be together."""
    if claim.quantity == "rig_difference" and len(claim.scope.of("rig") or ()) != 1:
        step = "write scope.rigs with one rig; `against` names the other"
        section.fail("scope", "a rig difference names one rig", next_step=step)
    if claim.quantity == "ranking" and claim.ranked_by == "change" and claim.direction is None:
        step = 'write direction = "loss" if the first loses most, "gain" if it gains most'
        section.fail("direction", "a ranking by change says of what", next_step=step)
    if claim.quantity == "ranking" and claim.ranked_by != "change" and claim.direction is not None:
        section.fail("direction", "a ranking by value has none: the first is the best")
