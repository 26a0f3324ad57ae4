"""What tables follow from is known file by file."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

from rigledger.study.inputs import input_hashes, set_of
from rigledger.study.layout import StudyFolder

if TYPE_CHECKING:
    from pathlib import Path


def test_every_file_is_hashed_also_a_register_that_has_the_name_of_another(tmp_path: Path) -> None:
    files = {
        "study/study.toml": '[register]\nfile = "../shared/corrections.toml"\n',
        "study/corrections.toml": "own",
        "study/claims.toml": "nothing follows from it",
        "study/sets/anna.first/runs.csv": "run\n",
        "study/sets/anna.first/captures/a.csv": "1\n",
        "shared/corrections.toml": "shared",
    }
    for name, text in files.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text, encoding="utf-8", newline="\n")
    found = input_hashes(StudyFolder(tmp_path / "study"))
    assert found == {
        name: hashlib.sha256(files[file].encode("utf-8")).hexdigest()
        for name, file in {
            "study.toml": "study/study.toml",
            "corrections.toml": "study/corrections.toml",
            "register": "shared/corrections.toml",
            "sets/anna.first/runs.csv": "study/sets/anna.first/runs.csv",
            "sets/anna.first/captures/a.csv": "study/sets/anna.first/captures/a.csv",
        }.items()
    }
    assert [set_of(name) for name in sorted(found)] == [
        None, None, "anna.first", "anna.first", None,
    ]  # fmt: skip
