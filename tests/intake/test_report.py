# ruff: noqa: ANN001, ANN201 - fixtures are known by their names
from __future__ import annotations

import csv
import io
import json
import xml.etree.ElementTree as ET

from rigledger.intake.check import check_set
from rigledger.intake.report import (
    as_csv,
    as_json,
    as_junit,
    as_markdown,
    as_sarif,
    summary_text,
)
from rigledger.intake.report_markdown import code


def test_a_clean_set_reads_as_accepted(made, study):
    assert summary_text(check_set(made.write(), study)) == (
        "Accepted: nothing to mend.\n"
        "anna.autumn-1 for the study link-width: 1 rig, 2 sessions, 16 runs, 12 measured runs, "
        "4 cells, 32 measurements.\n"
    )


def test_the_summary_groups_by_rule_and_column_with_counts_and_first_places(made, study):
    for run in made.runs[:12]:
        run["average_fps"] = "7.1" if run["resolution"] == "1920x1080" else run["average_fps"]
    text = summary_text(check_set(made.write(), study))
    assert "a frame rate looks like milliseconds a frame" in text
    assert "runs.csv, column average_fps, rows 2, 4, 6, 8, 10 and 1 more (6 places)" in text
    assert "1000 / 7.1 = 140.8 would be" in text
    assert 'add to result-set.toml:\n       [units]\n       average_fps = "ms"\n' in text


def test_json_and_csv_hold_every_finding(made, study):
    for run in made.runs:
        run["average_fps"] = "NaN"
    result = check_set(made.write(), study)
    held = json.loads(as_json(result))
    assert held["findings"] == [finding.as_dict() for finding in result.findings]
    assert [row["rule"] for row in csv.DictReader(io.StringIO(as_csv(result)))] == [
        finding.rule for finding in result.findings
    ]


def test_csv_of_findings_runs_nothing_in_a_spreadsheet(made, study):
    made.runs[0]["level"] = "=1+1"
    rows = list(csv.DictReader(io.StringIO(as_csv(check_set(made.write(), study)))))
    assert {"'=1+1"} == {row["value"] for row in rows if row["rule"] == "pattern_mismatch"}


def test_a_code_span_can_not_be_left():
    assert code("a`b") == "``a`b``"
    assert code("```\n# head") == "```` ``` # head ````"
    assert code("a\u202eb") == "`a\\u202eb`"


def test_markdown_quotes_nothing_of_the_set_outside_code(made, study):
    evil = "@all ![x](http://x/y.png) <img src=x> [a](http://b)"
    made.runs[0]["level"] = evil
    made.sessions[0]["boot"] = evil
    made.manifest = made.manifest.replace('"Anna"', f'"{evil * 4}"')
    text = as_markdown(check_set(made.write(), study))
    outside = "".join(part for place, part in enumerate(text.split("`")) if place % 2 == 0)
    assert "pattern_mismatch" in text
    assert not any(sign in outside for sign in ("@", "![", "<img", "](", "http"))


def test_junit_is_xml_with_a_failure_for_each_group(made, study):
    made.runs[0]["level"] = "x\x0116<"
    result = check_set(made.write(), study)
    tree = ET.fromstring(as_junit(result))  # noqa: S314 - our own text
    assert tree.get("failures") == str(len(tree.findall(".//failure")))
    assert "pattern_mismatch" in {case.get("classname") for case in tree.findall("testcase")}


def test_sarif_names_file_row_and_rule_of_every_finding(made, study):
    made.runs[0]["level"] = "X16"
    result = check_set(made.write(), study)
    held = json.loads(as_sarif(result))["runs"][0]
    assert [item["ruleId"] for item in held["results"]] == [f.rule for f in result.findings]
    first = next(item for item in held["results"] if item["ruleId"] == "pattern_mismatch")
    assert first["locations"] == [
        {"physicalLocation": {"artifactLocation": {"uri": "runs.csv"}, "region": {"startLine": 2}}}
    ]
