"""A set's signature: over exactly its files, by the key of the contributor's sets before."""

from __future__ import annotations

import datetime as dt
import shutil
import sys
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from rigledger.contract import load_contract
from rigledger.intake.gate import inspect
from rigledger.intake.log import FindingLog
from rigledger.intake.signature import check_signature
from rigledger.release.sign import sign_folder
from rigledger.signing import PrivateKey, SigningError, new_key_pair, read_private_key
from rigledger.study.decisions import Decision, Decisions, write_decisions

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

FIRST = Decision(
    "anna.autumn-1", "anna", dt.date(2026, 10, 20), "accepted", "0" * 64, "CC-BY-4.0", "1"
)


@pytest.fixture
def key(tmp_path: Path) -> PrivateKey:
    return read_private_key(new_key_pair(tmp_path / "anna")[0])


@pytest.fixture
def handed(tmp_path: Path) -> Path:
    folder = tmp_path / "handed"
    (folder / "captures").mkdir(parents=True)
    (folder / "result-set.toml").write_text("[set]\n", encoding="utf-8")
    (folder / "captures" / "one.csv").write_text("ms\n7.1\n", encoding="utf-8")
    return folder


@pytest.fixture
def study(tmp_path: Path) -> Callable[..., Path]:
    """Give a study in which anna's set was admitted, signed with some key or none."""

    def made(signed_with: str | None) -> Path:
        folder = tmp_path / "study"
        folder.mkdir()
        (folder / "study.toml").write_text("", encoding="utf-8")
        held = Decisions((replace(FIRST, signed_with=signed_with),))
        write_decisions(folder / "decisions.toml", held)
        return folder

    return made


def found(folder: Path, study: Path | None = None, name: str = "anna.autumn-2") -> list[str]:
    log = FindingLog(load_contract())
    seen = inspect(folder, folder.parent / "scratch")
    assert seen.findings == []
    assert check_signature(seen, study, name, log) == []
    return [f"{item.rule} {item.file}: {item.reason}" for item in log.findings]


def test_a_set_as_it_was_signed_has_no_finding(handed: Path, key: PrivateKey) -> None:
    assert found(handed) == []
    assert sign_folder(handed, key) == key.public
    assert found(handed) == []


def test_any_change_after_signing_is_named(handed: Path, key: PrivateKey) -> None:
    sign_folder(handed, key)
    (handed / "captures" / "one.csv").write_text("ms\n7.2\n", encoding="utf-8")
    (handed / "runs.csv").write_text("run\n", encoding="utf-8")
    assert found(handed) == [
        "signature_wrong captures/one.csv: not as it was signed: captures/one.csv, runs.csv"
    ]


@pytest.mark.parametrize("gone", ["SHA256SUMS", "SHA256SUMS.pem"])
def test_half_a_signature_is_none(handed: Path, key: PrivateKey, gone: str) -> None:
    sign_folder(handed, key)
    (handed / gone).unlink()
    assert found(handed) == [
        f"signature_wrong {gone}: the set is signed, and this file of the signature is not there"
    ]


def test_files_that_the_gate_ignores_are_not_signed(handed: Path, key: PrivateKey) -> None:
    (handed / "Thumbs.db").write_bytes(b"x")
    sign_folder(handed, key)
    (handed / "Thumbs.db").unlink()
    assert found(handed) == []


def test_another_key_than_before_is_named(
    handed: Path, key: PrivateKey, study: Callable[..., Path]
) -> None:
    sign_folder(handed, key)
    place = study("1" * 64)
    expected = "signed_with_other_key SHA256SUMS.pem: earlier sets of this contributor were signed"
    assert found(handed, place) == [f"{expected} with {'1' * 64}"]
    assert found(handed, place, "bench.autumn-1") == []
    # A set is never judged by what came after it.
    assert found(handed, place, "anna.autumn-1") == []


def test_the_same_key_as_before_and_a_first_key_are_fine(
    handed: Path, key: PrivateKey, study: Callable[..., Path]
) -> None:
    sign_folder(handed, key)
    assert found(handed, study(key.public.fingerprint)) == []
    shutil.rmtree(handed.parent / "study")
    assert found(handed, study(None)) == []


def test_an_unsigned_set_of_a_contributor_who_signs_is_named(
    handed: Path, study: Callable[..., Path]
) -> None:
    place = study("1" * 64)
    assert found(handed, place) == [
        f"signature_expected : the contributor's earlier sets are signed with {'1' * 64}"
    ]


def test_a_set_that_may_not_be_handed_in_is_not_signed(handed: Path, key: PrivateKey) -> None:
    (handed / "run.exe").write_bytes(b"x")
    with pytest.raises(SigningError, match=r"run\.exe"):
        sign_folder(handed, key)
    with pytest.raises(SigningError, match="only a folder can be signed"):
        sign_folder(handed / "result-set.toml", key)


def test_without_the_package_that_verifies_the_rules_are_said_not_to_have_run(
    handed: Path, key: PrivateKey, monkeypatch: pytest.MonkeyPatch
) -> None:
    sign_folder(handed, key)
    monkeypatch.setitem(sys.modules, "cryptography.hazmat.primitives", None)
    log = FindingLog(load_contract())
    not_run = check_signature(inspect(handed, handed.parent / "scratch"), None, "anna.one", log)
    assert log.findings == []
    assert [item.rule for item in not_run] == ["signature_wrong", "signed_with_other_key"]
    assert {item.because for item in not_run} == {
        'keys and signatures need the package cryptography: pip install "rigledger[signing]"'
    }
