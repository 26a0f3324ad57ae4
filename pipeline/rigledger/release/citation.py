"""Files for citing and depositing a release, made from its description."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigledger.release.describe import json_text, orcid_address
from rigledger.release.errors import ReleaseError

if TYPE_CHECKING:
    from rigledger.release.view import ReleaseView

# The vendored schema of the Citation File Format 1.2.0; vendor/README.md says where it is from.
_SCHEMA = Path(__file__).parent / "vendor" / "citation-file-format-1.2.0.json"
_ADDRESSES = {
    "CC-BY-4.0": "https://creativecommons.org/licenses/by/4.0/",
    "CC-BY-SA-4.0": "https://creativecommons.org/licenses/by-sa/4.0/",
    "CC0-1.0": "https://creativecommons.org/publicdomain/zero/1.0/",
    "ODC-By-1.0": "https://opendatacommons.org/licenses/by/1-0/",
    "PDDL-1.0": "https://opendatacommons.org/licenses/pddl/1-0/",
}


def citation(view: ReleaseView, descriptor_sha256: str) -> dict[str, Any]:
    """Give what CITATION.cff says, as values.

    Args:
        view: The release.
        descriptor_sha256: Hash of its datapackage.json, by which the bytes can be told.
    """
    design, meta = view.design, view.meta
    held: dict[str, Any] = {
        "cff-version": "1.2.0",
        "message": "If you use these data, please cite them as below.",
        "type": "dataset",
        "title": design.title,
        "abstract": design.question,
        "authors": [_author(author.name, orcid_address(author)) for author in design.authors],
        "version": meta.version,
        "date-released": meta.released_on.isoformat(),
        "license": view.licences(),
        "identifiers": [_hash_identifier(descriptor_sha256)],
    }
    if design.keywords:
        held["keywords"] = list(dict.fromkeys(design.keywords))
    if meta.identifier:
        held["doi"] = meta.identifier
    return held


def _author(name: str, orcid: str | None) -> dict[str, str]:
    """Give an author as an entity: a name is never split into parts by guessing."""
    return {"name": name} | ({"orcid": orcid} if orcid else {})


def _hash_identifier(sha256: str) -> dict[str, str]:
    return {
        "type": "other",
        "value": f"sha256:{sha256}",
        "description": "SHA-256 of the release's datapackage.json",
    }


def citation_text(view: ReleaseView, descriptor_sha256: str) -> str:
    """Write CITATION.cff: YAML whose values are written as JSON, which YAML 1.2 contains.

    Raises:
        ReleaseError: The Citation File Format refuses it.
    """
    held = citation(view, descriptor_sha256)
    errors = citation_errors(held)
    if errors:
        raise ReleaseError(
            f"the citation would not be valid: {errors[0]}", file="CITATION.cff",
            next_step="correct title, authors, keywords or licence in study.toml",
        )  # fmt: skip
    lines = (f"{key}: {json.dumps(value, ensure_ascii=False)}\n" for key, value in held.items())
    return "".join(lines)


def citation_errors(held: dict[str, Any]) -> list[str]:
    """Hold a citation against the schema of the Citation File Format 1.2.0."""
    import jsonschema

    schema = json.loads(_SCHEMA.read_text(encoding="utf-8"))
    errors = jsonschema.Draft7Validator(schema).iter_errors(held)
    return [f"{'/'.join(map(str, error.absolute_path))}: {error.message}" for error in errors]


def cite_as(view: ReleaseView) -> str:
    """Give the sentence by which the release is cited."""
    names = "; ".join(author.name for author in view.design.authors)
    year = view.meta.released_on.year
    place = f" https://doi.org/{view.meta.identifier}" if view.meta.identifier else ""
    title = f"{view.design.title} (version {view.meta.version}) [data set]."
    return f"{names} ({year}): {title}{place}".strip()


def deposit_text(view: ReleaseView) -> str:
    """Write .zenodo.json, the deposit's description as that archive reads it."""
    design = view.design
    rows = view.rows("SELECT shown_name FROM contributors ORDER BY contributor")
    collectors = [{"name": row["shown_name"], "type": "DataCollector"} for row in rows]
    creators = [
        {"name": author.name}
        | ({"orcid": author.orcid.rsplit("/", 1)[-1]} if author.orcid else {})
        | ({"affiliation": author.affiliation} if author.affiliation else {})
        for author in design.authors
    ]
    held = {
        "title": design.title,
        "upload_type": "dataset",
        "description": design.question,
        "version": view.meta.version,
        "publication_date": view.meta.released_on.isoformat(),
        "access_right": "open",
        "license": design.licence.lower(),
        "creators": creators,
        "contributors": collectors,
        "keywords": list(design.keywords),
    }
    return json_text({key: value for key, value in held.items() if value != []})


def licence_text(view: ReleaseView) -> str:
    """Write LICENSE: which licence the numbers have, and where its text is."""
    terms = view.contract.vocabularies["licence"].terms
    rows = view.rows("SELECT set_id, licence FROM sets WHERE state = 'admitted' ORDER BY set_id")
    apart = [row for row in rows if row["licence"] != view.design.licence]
    lines = [
        f"{view.design.title}, version {view.meta.version}",
        "",
        f"The data of this release are licensed under {terms[view.design.licence]}",
        f"({view.design.licence}): {_ADDRESSES[view.design.licence]}",
    ]
    if apart:
        lines += ["", "The rows of these result sets have a licence of their own:"]
        lines += [f"  {r['set_id']}: {r['licence']}, {_ADDRESSES[r['licence']]}" for r in apart]
    return "\n".join(lines) + "\n"
