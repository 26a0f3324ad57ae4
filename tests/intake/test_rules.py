# ruff: noqa: ANN001, ANN201 - fixtures are known by their names
from __future__ import annotations

import tomllib
from importlib.resources import files

import pytest

from rigledger.contract import load_contract
from rigledger.contract.compile_sql import compile_rule
from rigledger.contract.load import schema_folder
from rigledger.intake.check import check_set
from rigledger.intake.hints import Hints

EXAMPLES = {
    path.stem: tomllib.loads(path.read_text(encoding="utf-8"))
    for path in sorted((schema_folder() / "rules").glob("*.toml"))
}
BY_SQL = {rule.code for rule in load_contract().rules.values() if rule.check or rule.sql}
# These need a set that is in the study already: test_admitted.py.
AGAINST_THE_STUDY = {
    "session_already_admitted", "boots_out_of_order_in_study", "rig_with_other_hardware",
    "copied_from_other_set",
}  # fmt: skip


@pytest.fixture(scope="module")
def checked():
    """Keeps what the failing example of each rule comes to, which several tests ask."""
    return {}


def failing(made, study, checked, code):
    """Write the failing example of a rule, and give what it comes to."""
    folder = made.change(EXAMPLES[code]["failing"]["changes"]).write()
    if code not in checked:
        checked[code] = check_set(folder, study)
    return checked[code]


def test_every_rule_that_sql_finds_has_an_example():
    assert BY_SQL - AGAINST_THE_STUDY == set(EXAMPLES)


def test_there_are_at_least_thirty_rules_beyond_types_and_keys():
    assert len(BY_SQL) >= 30


def test_the_clean_set_is_accepted_and_every_rule_runs_on_it(made, study):
    result = check_set(made.write(), study)
    assert (result.verdict, result.findings, result.not_run) == ("accepted", (), ())


# An empty list of changes is the clean set, on which every rule is silent already.
CHANGED = sorted(code for code, held in EXAMPLES.items() if held["passing"]["changes"])


@pytest.mark.parametrize("code", CHANGED)
def test_a_rule_is_silent_on_its_passing_example(made, study, code):
    made.change(EXAMPLES[code]["passing"]["changes"])
    result = check_set(made.write(), study)
    assert code not in {finding.rule for finding in result.findings}
    assert code not in {skipped.rule for skipped in result.not_run}


@pytest.mark.parametrize("code", sorted(EXAMPLES))
def test_a_rule_finds_its_failing_example_and_says_where(made, study, checked, code):
    result = failing(made, study, checked, code)
    found = [finding for finding in result.findings if finding.rule == code]
    assert found, f"found {[f.rule for f in result.findings]}, not run {result.not_run}"
    rule = load_contract().rules[code]
    assert {finding.severity for finding in found} == {rule.severity}
    assert all(finding.reason and finding.next_step for finding in found)
    assert all(finding.row is not None for finding in found) or code == "matrix_unfinished"


@pytest.mark.parametrize("code", sorted(EXAMPLES)[::7])
def test_a_rule_that_is_spared_its_query_would_find_nothing(made, study, code, monkeypatch):
    told = Hints.may_find
    spared = []

    def may_find(hints, rule) -> bool:
        if not told(hints, rule):
            spared.append(hints._con.execute(compile_rule(rule)).fetchall())
        return told(hints, rule)

    monkeypatch.setattr(Hints, "may_find", may_find)
    made.change(EXAMPLES[code]["failing"]["changes"])
    check_set(made.write(), study)
    assert len(spared) > 20
    assert [rows for rows in spared if rows] == []


@pytest.mark.parametrize("code", sorted(EXAMPLES)[::9])
def test_a_long_table_comes_to_the_same_findings(made, study, checked, code, take_for_long):
    short = failing(made, study, checked, code)
    take_for_long()
    assert check_set(made.folder, study) == short


def test_a_wrong_cell_of_a_long_table_is_found_all_the_same(made, study, take_for_long):
    made.runs[3]["average_fps"] = "98,2"
    made.runs[5]["run"] = made.runs[4]["run"]
    folder = made.write()
    short = check_set(folder, study)
    take_for_long()
    assert check_set(folder, study) == short
    assert {"type_spelling", "duplicate_key"} <= {finding.rule for finding in short.findings}


def test_a_blank_driver_is_not_called_a_missing_partner_as_well(made, study):
    made.change([{"table": "sessions", "where": {"session": "2"}, "set": {"driver_version": ""}}])
    result = check_set(made.write(), study)
    assert [finding.rule for finding in result.findings] == ["required_missing"]
    skipped = {skipped.rule for skipped in result.not_run}
    assert skipped >= {"no_complete_pair", "pair_on_other_stacks"}


def test_lows_in_milliseconds_on_one_rig_are_named_row_by_row(made, study, checked):
    result = failing(made, study, checked, "low_in_milliseconds")
    found = [f for f in result.findings if f.rule == "low_in_milliseconds"]
    assert [(f.row, f.value) for f in found[:2]] == [(2, "10.4"), (3, "14.3")]
    assert len(found) == 12


def at(made, rate):
    """Let every measured run read the same, as a cap makes it."""
    values = {"average_fps": f"{rate:.1f}", "low_1pct_rank_fps": f"{rate - 1:.1f}"}
    return made.change([{"table": "runs", "where": {"role": "measured"}, "set": values}])


def rules_on(made, study):
    return {finding.rule for finding in check_set(made.write(), study).findings}


def test_equal_values_at_a_refresh_rate_are_a_plateau_and_no_copies(made, study):
    assert rules_on(at(made, 120), study) == {"plateau_at_refresh_rate"}


def test_equal_values_at_a_cap_that_the_study_states_are_no_wonder(made, study):
    path = study / "study.toml"
    length = "passage_length_s = 60\n"
    text = path.read_text(encoding="utf-8")
    path.write_text(text.replace(length, f"{length}frame_cap_fps = 117\n"), encoding="utf-8")
    assert rules_on(at(made, 117), study) == set()


def test_equal_values_elsewhere_are_named(made, study):
    assert rules_on(at(made, 117), study) == {"same_value_every_run"}


def test_what_rules_read_in_common_says_nothing_of_what_was_found_meanwhile():
    """The query of a rule that doesn't read handed.found itself may run before its turn."""
    work = files("rigledger.intake").joinpath("sql", "work")
    assert [one.name for one in work.iterdir() if "handed.found" in one.read_text("utf-8")] == []


def test_a_value_that_comes_into_doubt_is_left_out_though_rules_were_asked_before(
    made, study, take_for_long
):
    made.runs[3]["average_fps"] = "9000.0"  # beyond what is plausible: no wide spread beside
    folder = made.write()
    short = check_set(folder, study)
    take_for_long()
    assert check_set(folder, study) == short
    rules = {finding.rule for finding in short.findings}
    assert "outside_plausible_range" in rules
    assert "wide_spread" not in rules
