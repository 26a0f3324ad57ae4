"""An audit in words: lines for a person."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.audit.frame import SPREADS
from rigledger.audit.plan import FEWEST_POWER, RANDOM, TARGETED
from rigledger.counting import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from rigledger.audit.change import Announced
    from rigledger.audit.line import RigLine, StackOnRig
    from rigledger.audit.retest import Prepared
    from rigledger.audit.stale import RestingOnRig, Stale

_SHORT = {
    "firmware_version": "firmware", "driver_version": "driver",
    "card_firmware_version": "card firmware", "os": "OS", "os_build": "OS build",
    "memory_speed_mts": "memory MT/s", "profile": "profile",
}  # fmt: skip


def share(part: int, whole: int) -> str:
    """Write a share in per cent; of nothing, 0 %."""
    return f"{100 * part / whole:.0f} %" if whole else "0 %"


def _rest(number: int) -> str:
    return "rests" if number == 1 else "rest"


def line_lines(lines: Sequence[RigLine]) -> Iterator[str]:
    """Show each rig's stacks in order, the current one marked."""
    for line in lines:
        yield line.rig
        for held in line.stacks:
            mark = "now " if held == line.current else "    "
            yield (
                f"  {mark}{held.since} to {held.until}, {counted(held.sessions, 'session')}: "
                f"{_versions(held)}"
            )


def _versions(held: StackOnRig) -> str:
    return ", ".join(
        f"{_SHORT.get(name, name)} {value}"
        for name, value in held.versions.items()
        if value is not None
    )


def stale_lines(announced: Announced, stale: Stale) -> Iterator[str]:
    """Say what rests on the old version, rig by rig, then the claims."""
    whole = stale.comparisons
    yield (
        f"With {_named(announced)}, {counted(stale.resting, 'published comparison')} of "
        f"{whole} ({share(stale.resting, whole)} of the study) "
        f"{_rest(stale.resting)} on an older version:"
    )
    for held in stale.rigs:
        yield f"  {_rig_line(held)}"
    for rig, why in announced.passed_over:
        yield f"  {rig}: {why}"
    if stale.claims:
        yield f"{counted(len(stale.claims), 'claim')} {_rest(len(stale.claims))} on it:"
    for claim in stale.claims:
        part = f"{claim.resting} of its {claim.of}" if claim.resting < claim.of else "all its"
        yield f"  {claim.claim} ({claim.verdict}), {part} comparisons: {claim.sentence}"


def _named(announced: Announced) -> str:
    change = announced.change
    named = [f"{_SHORT.get(name, name)} {value}" for name, value in change.versions]
    named += [f"build {build} of {name}" for name, build in change.builds]
    return f"{', '.join(named)} from {change.since} on"


def _rig_line(held: RestingOnRig) -> str:
    was = ", ".join(f"{_SHORT.get(name, name)} {value or 'blank'}" for name, value in held.was)
    text = (
        f"{held.rig}: {held.comparisons} of its {counted(held.of_rig, 'comparison')} in "
        f"{counted(held.titles, 'title')}, {held.material} with a material change; on {was} since "
        f"{held.since}"
    )
    if held.published_since:
        text += f", published since {held.published_since}"
    return text + ("; it had the new version before" if held.goes_back else "")


def plan_lines(prepared: Prepared) -> Iterator[str]:
    """Say what the plan re-tests, what it can show, and how often it errs."""
    record, plan = prepared.record, prepared.record.plan
    asked, carried = plan.asked, len(plan.carried)
    drawn, aimed = len(plan.part(RANDOM)), len(plan.part(TARGETED))
    yield (
        f"Re-test plan {record.plan_id}, seed {asked.seed}: {counted(plan.runs, 'measured run')} "
        f"in {counted(drawn + aimed, 'cell')}, {prepared.hours:.1f} h with boots, swaps and "
        "sentinels."
    )
    yield f"  random part: {drawn} of {counted(carried, 'cell')}, {_strata(prepared)}"
    yield f"  targeted part: {counted(aimed, 'cell')}; what is seen there carries no bound"
    yield from _left_out(prepared)
    yield (
        f"A shift of {asked.shift_pct:g} % is seen (p at most {plan.p_limit:.2g}, "
        f"{counted(asked.runs_per_cell, 'run')} in {counted(asked.sessions, 'session')}):"
    )
    for spread, power in zip(SPREADS, plan.promised, strict=True):
        yield f"  {100 * power:3.0f} in 100 where runs spread by {spread:g} %"
    yield from _rates(prepared)


def _strata(prepared: Prepared) -> str:
    names = {held.stratum for held in prepared.record.plan.carried}
    if len(names) == 1:
        return "drawn by lot"
    rigs = {held.cell.rig for held in prepared.record.plan.carried}
    kind = "rig" if names <= rigs else "title"
    kind = "rig and title" if all(" / " in name for name in names) else kind
    return f"drawn by lot in {len(names)} strata by {kind}"


def _left_out(prepared: Prepared) -> Iterator[str]:
    plan = prepared.record.plan
    noisy = sum(not held.stratum for held in plan.cells)
    if noisy:
        yield (
            f"  {counted(noisy, 'cell')} spread too much: there the shift would be seen less than "
            f"{100 * FEWEST_POWER:g} % of the time, and nothing is said of them"
        )
    for *place, reason in prepared.frame.left_out[:3]:
        yield f"  left out: {' '.join(place)}: {reason}"
    more = len(prepared.frame.left_out) - 3
    if more > 0:
        yield f"  left out: {counted(more, 'further cell')}"


def _rates(prepared: Prepared) -> Iterator[str]:
    plan = prepared.record.plan
    asked, carried = plan.asked, len(plan.carried)
    most = int(carried * asked.tolerated_pct / 100)
    wrong = round(100 * (1 - asked.level))
    yield (
        f"If none of the drawn cells is seen to move, at most {plan.bound_if_none} of {carried} "
        f"have, at {100 * asked.level:g} %."
    )
    if not plan.can_stand:
        yield (
            f"That is more than the {most} ({asked.tolerated_pct:g} %) with which the table would "
            "stand: this budget can find what moved, but not show that the table stands."
        )
        return
    yield (
        f"It will say that the table stands when at most {plan.alarms} are seen. If nothing moved, "
        f"it says so at least {round(100 * (1 - asked.alarm_rate))} times in 100; if more than "
        f"{most} moved by {asked.shift_pct:g} %, at most {wrong} times in 100."
    )
