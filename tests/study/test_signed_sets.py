"""A signed set keeps its signature in the study, and its key in the decision."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import duckdb
import pytest

from rigledger.errors import StudyError
from rigledger.release.sign import sign_folder
from rigledger.signing import new_key_pair, read_private_key, signer_of
from rigledger.study.admit import admit
from rigledger.study.decisions import Waiver, read_decisions
from rigledger.study.load import load_source

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.study.layout import StudyFolder

DAY = dt.date(2026, 10, 20)


def test_the_key_of_a_signed_set_is_kept_published_and_guarded(
    study: StudyFolder, handed_in: Path, tmp_path: Path
) -> None:
    key = read_private_key(new_key_pair(tmp_path / "anna")[0])
    sign_folder(handed_in, key)

    assert admit(study, handed_in, received_on=DAY).admitted
    folder = study.set_folder("anna.autumn-1")
    assert read_decisions(study.decisions).decisions[0].signed_with == key.public.fingerprint
    assert signer_of(folder) == key.public

    con = duckdb.connect()
    load_source(study, con)
    assert con.execute("SELECT public_key FROM contributors").fetchall() == [(key.public.line,)]

    (folder / "SHA256SUMS.sig").unlink()
    with pytest.raises(StudyError, match="signature of an admitted set was altered"):
        load_source(study, con)


def test_a_set_altered_after_signing_is_returned_and_a_new_key_needs_a_waiver(
    study: StudyFolder, handed_in: Path, tmp_path: Path
) -> None:
    first, second = (read_private_key(new_key_pair(tmp_path / name)[0]) for name in ("a", "b"))
    sign_folder(handed_in, first)
    manifest = handed_in / "result-set.toml"
    text = manifest.read_text(encoding="utf-8")
    manifest.write_text(text + "\n", encoding="utf-8")
    returned = admit(study, handed_in, received_on=DAY)
    assert [f.rule for f in returned.check.findings if f.severity == "error"] == ["signature_wrong"]

    manifest.write_text(text, encoding="utf-8")
    admit(study, handed_in, received_on=DAY)
    renamed = text.replace('set = "autumn-1"', 'set = "autumn-2"')
    manifest.write_text(
        renamed.replace('# supersedes = "autumn-0"', 'supersedes = "autumn-1"'), encoding="utf-8"
    )
    sign_folder(handed_in, second)
    returned = admit(study, handed_in, received_on=DAY)
    errors = [f.rule for f in returned.check.findings if f.severity == "error"]
    assert errors == ["signed_with_other_key"]
    waiver = Waiver("signed_with_other_key", "she told us by telephone")
    assert admit(study, handed_in, received_on=DAY, waivers=[waiver]).admitted
    last = read_decisions(study.decisions).decisions[-1]
    assert (last.signed_with, last.waivers) == (second.public.fingerprint, (waiver,))
