# ruff: noqa: ANN001 - fixtures are known by their names
"""Every hostile set comes to its finding; nothing outside the scratch folder has changed."""

from __future__ import annotations

from rigledger.intake.limits import limit


def test_a_hostile_set_comes_to_its_finding(quarantine, case_name, cases) -> None:
    assert quarantine.errors == ""
    found = quarantine.rules[case_name]
    wanted = cases[case_name].rule
    assert all(complete for _, complete in found)
    if wanted is None:
        assert found == []
    else:
        assert wanted in {rule for rule, _ in found}


def test_the_corpus_is_large(cases) -> None:
    assert len(cases) >= 120


def test_the_study_and_the_sets_are_byte_identical_afterwards(quarantine) -> None:
    assert quarantine.before == quarantine.after


def test_memory_stays_under_the_limit(quarantine) -> None:
    assert 0 <= quarantine.peak_mb < limit("parse.memory_mb")


def test_nothing_else_was_written_and_no_socket_opened(quarantine) -> None:
    # The process is confined: a socket, a program, or a file outside its scratch folder ends it.
    assert quarantine.errors == ""
    assert quarantine.left == ["scratch", "sets", "study", "study/study.toml"]
