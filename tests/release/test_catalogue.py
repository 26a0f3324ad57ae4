"""Catalogue files and the deposit: made from datapackage.json, read back by others' readers."""

from __future__ import annotations

import json
import shutil
import zipfile
from datetime import date
from typing import TYPE_CHECKING, Any

import pytest
import yaml

from rigledger.files import sha256_of
from rigledger.page.embed import json_for_html
from rigledger.release.archive import open_release
from rigledger.release.catalogue import crate_text, dataset_jsonld, deposit_text
from rigledger.release.citation import citation, citation_errors, citation_text
from rigledger.release.deposit import deposit
from rigledger.release.errors import ReleaseError
from rigledger.release.record import ADDRESSES

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from rigledger.release.write import ReleaseResult

SHA256 = "ab" * 32
ORCID = "https://orcid.org/0000-0002-1825-0097"  # the example of orcid.org's own documentation


@pytest.fixture
def descriptor(published: ReleaseResult) -> dict[str, Any]:
    held: dict[str, Any] = json.loads((published.folder / "datapackage.json").read_bytes())
    held["contributors"][0] |= {"path": ORCID, "organization": "Institute of <Frames> & Co"}
    held["rigledger"] |= {"identifier": "10.1234/link-try.1", "embargo_until": "2027-01-31"}
    held["title"] = "A </script><b>hostile</b> title"
    return held


def test_the_citation_has_the_reserved_identifier_and_stays_valid(
    descriptor: dict[str, Any],
) -> None:
    """Read as YAML by PyYAML, held against the vendored Citation File Format 1.2.0 schema."""
    held = yaml.safe_load(citation_text(descriptor, SHA256))
    assert held == citation(descriptor, SHA256)
    assert citation_errors(held) == []
    assert held["doi"] == "10.1234/link-try.1"
    assert held["authors"] == [{"name": "The rigledger maintainers", "orcid": ORCID}]
    descriptor["rigledger"]["identifier"] = "link-try"
    with pytest.raises(ReleaseError, match="doi"):
        citation_text(descriptor, SHA256)


def test_the_deposit_is_described_with_embargo_and_identifier(descriptor: dict[str, Any]) -> None:
    held = json.loads(deposit_text(descriptor))
    assert {key: held[key] for key in held if key not in {"description", "keywords"}} == {
        "title": "A </script><b>hostile</b> title",
        "upload_type": "dataset",
        "version": "1.0.0",
        "publication_date": "2026-11-25",
        "doi": "10.1234/link-try.1",
        "access_right": "embargoed",
        "embargo_date": "2027-01-31",
        "license": "cc-by-4.0",
        "creators": [
            {
                "name": "The rigledger maintainers",
                "orcid": "0000-0002-1825-0097",
                "affiliation": "Institute of <Frames> & Co",
            }
        ],
        "contributors": [{"name": "Anna", "type": "DataCollector"}],
    }
    descriptor["rigledger"] |= {"identifier": None, "embargo_until": None}
    held = json.loads(deposit_text(descriptor))
    assert (held["access_right"], "doi" in held, "embargo_date" in held) == ("open", False, False)


def test_the_page_s_dataset_can_close_no_script(descriptor: dict[str, Any]) -> None:
    held = dataset_jsonld(descriptor, SHA256)
    text = json_for_html(held)
    assert "</" not in text
    assert json.loads(text) == held
    assert (held["@type"], held["name"]) == ("Dataset", "A </script><b>hostile</b> title")
    assert held["identifier"][0] == "https://doi.org/10.1234/link-try.1"
    assert held["license"] == [ADDRESSES["CC-BY-4.0"]]
    assert held["conditionsOfAccess"] == "closed until 2027-01-31"
    tables = [item["path"] for item in descriptor["resources"] if "schema" in item]
    assert [item["contentUrl"] for item in held["distribution"]] == tables


def test_the_page_holds_the_dataset_once(published: ReleaseResult) -> None:
    page = (published.folder / "index.html").read_text(encoding="utf-8")
    _, text = page.split('<script type="application/ld+json">')
    descriptor = json.loads((published.folder / "datapackage.json").read_bytes())
    expected = dataset_jsonld(descriptor, sha256_of(published.folder / "datapackage.json"))
    assert json.loads(text.split("</script>")[0]) == expected


def test_the_crate_is_loaded_by_its_own_library(
    published: ReleaseResult, descriptor: dict[str, Any], tmp_path: Path
) -> None:
    """PyPI ``rocrate``, the library of the RO-Crate community, on a whole release."""
    from rocrate.rocrate import ROCrate

    folder = shutil.copytree(published.folder, tmp_path / "release")
    text = crate_text(descriptor, SHA256, 7)
    (folder / "ro-crate-metadata.json").write_text(text, encoding="utf-8")
    crate = ROCrate(str(folder))
    assert (crate.version, crate.name) == ("1.1", "A </script><b>hostile</b> title")
    assert crate.creator[0].id == ORCID
    assert crate.license[0].id == ADDRESSES["CC-BY-4.0"]
    files = {item.id: item for item in crate.data_entities}
    assert set(files) == {"datapackage.json", *(f["path"] for f in descriptor["resources"])}
    assert all((folder / name).is_file() for name in files)
    runs = next(item for item in descriptor["resources"] if item["path"] == "data/runs.csv")
    assert f"sha256:{files['data/runs.csv']['sha256']}" == runs["hash"]


def test_a_deposit_is_the_same_bytes_whatever_the_folder_s_times_and_rights(
    published: ReleaseResult, tmp_path: Path
) -> None:
    folder = shutil.copytree(published.folder, tmp_path / "elsewhere", copy_function=shutil.copy)
    (folder / "LICENSE").chmod(0o600)
    one = deposit(published.folder, tmp_path / "one.zip")
    other = deposit(folder, tmp_path / "other.zip")
    assert one.sha256 == other.sha256 == sha256_of(tmp_path / "other.zip")
    assert (one.fingerprint, one.size) == (published.fingerprint, one.file.stat().st_size)
    (tmp_path / "scratch").mkdir()
    unpacked = open_release(one.file, tmp_path / "scratch")
    assert unpacked.name == "link-try-1.0.0"
    assert sha256_of(unpacked / "SHA256SUMS") == published.fingerprint
    entries = zipfile.ZipFile(one.file).infolist()
    assert {entry.date_time for entry in entries} == {(2026, 11, 25, 0, 0, 0)}
    assert {entry.external_attr >> 16 for entry in entries} == {0o100644}


def test_an_altered_release_is_not_deposited(published: ReleaseResult, tmp_path: Path) -> None:
    folder = shutil.copytree(published.folder, tmp_path / "altered")
    (folder / "readers.md").write_text("other", encoding="utf-8")
    with pytest.raises(ReleaseError, match="only an unaltered release is deposited"):
        deposit(folder, tmp_path / "one.zip")
    assert not (tmp_path / "one.zip").exists()


def test_an_embargo_that_is_over_before_the_release_is_refused(
    write: Callable[..., ReleaseResult],
) -> None:
    with pytest.raises(ReleaseError, match="embargo ends before the release"):
        write(embargo_until=date(2026, 11, 25))
