"""Signature and register of a release: what a reader's own knowledge of them proves."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import pytest

from rigledger.release.errors import RecheckError
from rigledger.release.outcome import Difference
from rigledger.release.promises import Evidence
from rigledger.release.proven import what_is_proven
from rigledger.release.recheck import recheck
from rigledger.release.register import Entry, append_entry
from rigledger.release.show import difference_line
from rigledger.release.sign import sign_folder
from rigledger.release.vouching import key_note, register_differences, signature_differences
from rigledger.signing import PrivateKey, SigningError, new_key_pair, read_private_key

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.release.write import ReleaseResult


@pytest.fixture
def key(tmp_path: Path) -> PrivateKey:
    return read_private_key(new_key_pair(tmp_path / "authors")[0])


@pytest.fixture
def other(tmp_path: Path) -> PrivateKey:
    return read_private_key(new_key_pair(tmp_path / "forger")[0])


def test_a_signed_release_keeps_its_fingerprint_and_is_as_published(
    published: ReleaseResult, release_copy: Path, key: PrivateKey
) -> None:
    sign_folder(release_copy, key)
    result = recheck(release_copy, key=key.public, fingerprint=published.fingerprint)
    assert (result.verdict, result.differences) == ("as_published", ())
    assert result.signed_with == key.public.fingerprint
    said = "The release was signed with the key you gave, and no byte of it was altered since."
    assert said in result.proven


def test_without_a_key_first_use_is_explained(
    release_copy: Path, key: PrivateKey, other: PrivateKey
) -> None:
    assert signature_differences(release_copy, None) == ([], None)
    sign_folder(release_copy, key)
    wrong, signer = signature_differences(release_copy, None)
    assert (wrong, signer) == ([], key.public.fingerprint)
    _, not_proven = what_is_proven(Evidence(signed_with=signer))
    explained = next(text for text in not_proven if text.startswith("Whose key signed it"))
    assert key.public.fingerprint in explained
    assert "as it would from a forger" in explained
    assert other.public.fingerprint not in explained


def test_a_missing_a_foreign_and_a_swapped_signature_are_errors_when_a_key_is_given(
    release_copy: Path, key: PrivateKey, other: PrivateKey
) -> None:
    def kinds() -> list[tuple[str, str]]:
        return [(d.kind, d.file) for d in signature_differences(release_copy, key.public)[0]]

    assert kinds() == [("signature", "SHA256SUMS.sig")]
    sign_folder(release_copy, other)
    assert kinds() == [("signature", "SHA256SUMS.sig")]
    (release_copy / "SHA256SUMS.pem").write_bytes(key.public.pem)
    assert kinds() == [("signature", "SHA256SUMS.sig")]
    (release_copy / "SHA256SUMS.sig").write_bytes(b"short")
    assert kinds() == [("signature", "SHA256SUMS.sig")]


def test_a_signed_or_altered_release_is_not_signed(
    release_copy: Path, key: PrivateKey, other: PrivateKey
) -> None:
    sign_folder(release_copy, key)
    with pytest.raises(SigningError, match="signed already"):
        sign_folder(release_copy, other)
    (release_copy / "SHA256SUMS.sig").unlink()
    (release_copy / "LICENSE").write_text("mine", encoding="utf-8")
    with pytest.raises(SigningError, match="LICENSE has other bytes"):
        sign_folder(release_copy, key)


def entry(version: str, fingerprint: str, previous: str | None) -> Entry:
    day = date(2026, 11, 25)
    return Entry(version, day, fingerprint, previous, "0.1.0", None, ())


def test_the_register_tells_the_newest_a_superseded_a_retracted_and_an_unknown_release(
    tmp_path: Path,
) -> None:
    register = tmp_path / "releases.toml"
    first, second = "1" * 64, "2" * 64
    append_entry(register, entry("1.0.0", first, None))
    assert register_differences(first, register) == []
    append_entry(register, entry("1.1.0", second, first))

    def says(fingerprint: str) -> list[str]:
        return [d.says for d in register_differences(fingerprint, register)]

    assert says(first) == ["1.0.0 is not the newest release: 1.1.0 is"]
    assert says("3" * 64) == ["the register lists no release of this fingerprint"]
    text = register.read_text(encoding="utf-8")
    register.write_text(
        f'{text}\n[[retraction]]\nversion = "1.1.0"\nreason = "a card was faulty"\n', "utf-8"
    )
    assert says(second) == ["1.1.0 was retracted: a card was faulty"]


def test_authors_are_told_when_they_sign_otherwise_than_before() -> None:
    plain = entry("1.0.0", "1" * 64, None)
    signed = replace(plain, version="1.1.0", signed_with="a" * 64)
    other = replace(plain, version="1.2.0", signed_with="b" * 64)
    assert [key_note(held) for held in ((plain,), (plain, signed), (signed, signed))] == [None] * 3
    assert "this one with another, b" in (key_note((signed, other)) or "")
    assert "this one not at all" in (key_note((signed, plain)) or "")


def test_a_study_is_of_use_to_the_deep_check_alone(release_copy: Path) -> None:
    with pytest.raises(RecheckError, match="add --deep"):
        recheck(release_copy, study=release_copy)


@pytest.mark.parametrize(
    ("recorded", "found", "ends"),
    [
        ("-11.5", "-12.0", "(recorded -11.5, found -12.0: +0.5, +4.17 %)"),
        ("3.0", "0.0", "(recorded 3.0, found 0.0: +3)"),
        ("gain", "loss", "(recorded gain, found loss)"),
        ("1.0", None, "(recorded 1.0, found None)"),
    ],
)
def test_a_number_that_differs_is_shown_with_how_far_it_lies_off(
    recorded: str, found: str | None, ends: str
) -> None:
    held = Difference("value_differs", "f", "differs", recorded=recorded, found=found)
    assert difference_line(held) == f"  f: differs {ends}"


def test_what_was_given_decides_what_is_not_proven() -> None:
    everything = frozenset({"key", "register", "previous", "deep", "study", "fingerprint"})
    _, nothing_more = what_is_proven(Evidence(told=everything, has_previous=True))
    assert nothing_more == (
        "That the runs were measured as stated, or that no run was left out beforehand.",
    )
    _, much = what_is_proven(Evidence(has_previous=True))
    assert [text.split(":")[0] for text in much[1:]] == [
        "That this is the release its authors published",
        "That it is the newest release, and not retracted",
        "The results of the expectations",
        "The list of what changed",
        "The findings on the sets",
    ]


def test_the_results_of_expectations_need_the_release_before_where_there_was_one() -> None:
    def shown(*told: str, before: bool) -> list[str]:
        held = Evidence(told=frozenset(told), has_previous=before)
        _, lacking = what_is_proven(held)
        return [text[-23:] for text in lacking if text.startswith("The results of")]

    assert shown("deep", before=False) == shown("deep", "previous", before=True) == []
    assert shown("deep", before=True) == ["(--deep, and --previous)."[-23:]]


def test_progress_is_reported_in_words(published: ReleaseResult, tmp_path: Path) -> None:
    said: list[str] = []
    folder = shutil.copytree(published.folder, tmp_path / "release")
    (folder / "data" / "runs.csv").write_bytes(b"")
    recheck(folder, report=said.append)
    assert said == ["opening the release", "hashing its files", "reading its tables"]
