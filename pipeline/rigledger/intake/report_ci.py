"""The result as continuous-integration services read it: JUnit XML and SARIF 2.1.0."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

from rigledger.contract.load import load_contract
from rigledger.intake.groups import Group, group_findings

if TYPE_CHECKING:
    from rigledger.findings import Finding
    from rigledger.intake.result import CheckResult

_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def _xml(text: str) -> str:
    from xml.sax.saxutils import escape  # brings half of the standard library with it

    return escape(_NOT_XML.sub("\ufffd", text))


def _attribute(text: str) -> str:
    from xml.sax.saxutils import quoteattr

    return quoteattr(_NOT_XML.sub("\ufffd", text))


def as_junit(result: CheckResult) -> str:
    """Give the result as JUnit XML: a case a rule and place, skipped ones for rules not run."""
    errors = group_findings(result, "error")
    remarks = group_findings(result, "remark")
    cases = [_case(group, failed=True) for group in errors]
    cases += [_case(group, failed=False) for group in remarks]
    cases += [
        f"  <testcase classname={_attribute(item.rule)} name={_attribute(item.rule)}>"
        f"<skipped message={_attribute(item.because)}/></testcase>"
        for item in result.not_run
    ]
    head = (
        f'<testsuite name={_attribute(result.set_id or "set")} tests="{len(cases)}"'
        f' failures="{len(errors)}" skipped="{len(result.not_run)}">'
    )
    return (
        "\n".join(['<?xml version="1.0" encoding="UTF-8"?>', head, *cases, "</testsuite>"]) + "\n"
    )


def _case(group: Group, *, failed: bool) -> str:
    text = "\n".join(
        f"row {finding.row}: {finding.reason}" if finding.row else finding.reason
        for finding in group.findings[:100]
    )
    head = f"  <testcase classname={_attribute(group.rule.code)} name={_attribute(group.place)}>"
    message = _attribute(f"{group.rule.title}: {group.first.next_step}")
    inner = (
        f"<failure message={message}>{_xml(text)}</failure>"
        if failed
        else f"<system-out>{_xml(text)}</system-out>"
    )
    return f"{head}{inner}</testcase>"


def as_sarif(result: CheckResult) -> str:
    """Give the result as SARIF 2.1.0 (OASIS standard): every finding with its file and row."""
    codes = sorted({finding.rule for finding in result.findings})
    rules = load_contract().rules
    driver = {
        "name": "rigledger",
        "rules": [
            {
                "id": code,
                "shortDescription": {"text": rules[code].title},
                "fullDescription": {"text": rules[code].why},
                "help": {"text": rules[code].next_step},
            }
            for code in codes
        ],
    }
    held = {
        "$schema": "https://json.schemastore.org/sarif-2.1.0.json",
        "version": "2.1.0",
        "runs": [
            {
                "tool": {"driver": driver},
                "results": [_sarif_result(finding) for finding in result.findings],
            }
        ],
    }
    return json.dumps(held, indent=2, ensure_ascii=False) + "\n"


def _sarif_result(finding: Finding) -> dict[str, Any]:
    held: dict[str, Any] = {
        "ruleId": finding.rule,
        "level": "error" if finding.severity == "error" else "note",
        "message": {"text": f"{finding.reason} Next step: {finding.next_step}"},
    }
    if finding.file:
        place: dict[str, Any] = {"artifactLocation": {"uri": finding.file.replace(" ", "%20")}}
        if finding.row:
            place["region"] = {"startLine": finding.row}
        held["locations"] = [{"physicalLocation": place}]
    return held
