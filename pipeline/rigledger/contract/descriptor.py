"""Table Schemas, resources and the Data Package 2.0 descriptor, made from the contract.

Standard: <https://datapackage.org/standard/data-package/> and the three pages beside it. No field
uses the type ``list`` and no schema uses ``fieldsMatch``: the official profile refuses both, and
older readers stumble over them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from rigledger.contract.model import Contract, Field, ForeignKey, Rule, Table

PROFILE = "https://datapackage.org/profiles/2.0/datapackage.json"

Descriptor = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Contributor:
    """Someone who made the package.

    Attributes:
        title: Name as cited.
        roles: What they did: ``creator``, ``dataCurator``, ``dataCollector``, ``rightsHolder`` …
        path: Address, such as an ORCID; None where none is known.
        organization: Affiliation; None where none is known.
    """

    title: str
    roles: tuple[str, ...] = ("creator",)
    path: str | None = None
    organization: str | None = None

    def as_dict(self) -> Descriptor:
        """Give the entry of the descriptor."""
        return _held(
            title=self.title,
            path=self.path,
            organization=self.organization,
            roles=list(self.roles),
        )


def table_schema(table: Table) -> Descriptor:
    """Describe a table's columns and keys as a Table Schema.

    Args:
        table: The table, with its metric and fact columns where it has some (``Contract.wide``).

    Returns:
        A Table Schema; units, ``unitFrom`` and the vocabularies' names are kept as further
        properties.
    """
    return _held(
        fields=[_field(field) for field in table.fields],
        missingValues=[""],
        primaryKey=list(table.primary_key),
        uniqueKeys=[list(key) for key in table.unique_keys],
        foreignKeys=[_foreign_key(key, table) for key in table.foreign_keys],
    )


def _field(field: Field) -> Descriptor:
    words = {"trueValues": ["true"], "falseValues": ["false"]} if field.type == "boolean" else {}
    return _held(
        name=field.name,
        title=field.title,
        description=field.description,
        type=field.type,
        **words,
        unit=field.unit,
        unitFrom=field.unit_from,
        vocabulary=field.vocabulary,
        example=example_text(field),
        constraints=_constraints(field),
    )


def example_text(field: Field) -> str | None:
    """Give a column's example as it is written in a cell; the profile allows only text there."""
    if isinstance(field.example, bool):
        return str(field.example).lower()
    return None if field.example is None else str(field.example)


def _constraints(field: Field) -> Descriptor:
    return _held(
        required=field.required or None,
        minimum=field.minimum,
        maximum=field.maximum,
        pattern=field.pattern,
        maxLength=field.max_length,
        enum=list(field.enum),
    )


def _foreign_key(key: ForeignKey, table: Table) -> Descriptor:
    # The standard says that a table names itself by leaving the resource out; older readers want
    # "".
    resource = {} if key.table == table.name else {"resource": key.table}
    return {"fields": [key.field], "reference": {**resource, "fields": [key.reference]}}


def _held(**entries: Any) -> Descriptor:  # noqa: ANN401 - values of a JSON document
    """Leave out what has nothing to say: None and empty collections."""
    return {name: value for name, value in entries.items() if value not in (None, [], {})}


def resource(
    table: Table, *, path: str, sha256: str, size: int, rules: Iterable[Rule] = ()
) -> Descriptor:
    """Describe one published CSV file of a table.

    Args:
        table: The table, with its metric and fact columns where it has some.
        path: POSIX path inside the package.
        sha256: Hash of the file, hexadecimal.
        size: Bytes of the file.
        rules: Rules of the contract; those of this table are listed under ``rules``.
    """
    return _held(
        name=table.name,
        type="table",
        title=table.title,
        description=table.description,
        path=path,
        format="csv",
        mediatype="text/csv",
        encoding="utf-8",
        bytes=size,
        hash=f"sha256:{sha256}",
        dialect={"delimiter": ",", "lineTerminator": "\n", "quoteChar": '"', "doubleQuote": True},
        schema=table_schema(table),
        rules=[_rule(rule) for rule in rules if rule.table == table.name],
    )


def _rule(rule: Rule) -> Descriptor:
    return {"code": rule.code, "title": rule.title, "severity": rule.severity}


def file_resource(
    name: str, *, path: str, sha256: str, size: int, title: str, mediatype: str
) -> Descriptor:
    """Describe a file that isn't read as a table of the package: Parquet copies, captures, reports.

    Common readers take a Parquet file for a table and then compare neither its hash nor its size
    rightly; with a format that isn't theirs they check both. The profile knows no other ``type``
    than ``table``, so none is given.

    Args:
        name: Name of the resource, unique in the package.
        path: POSIX path inside the package.
        sha256: Hash of the file, hexadecimal.
        size: Bytes of the file.
        title: What it is.
        mediatype: Its media type, such as ``application/vnd.apache.parquet``.
    """
    ending = path.rsplit("/", 1)[-1].rpartition(".")[2].lower()
    return {
        "name": name,
        "title": title,
        "path": path,
        "format": "apache-parquet" if ending == "parquet" else ending,
        "mediatype": mediatype,
        "bytes": size,
        "hash": f"sha256:{sha256}",
    }


def licence(name: str, contract: Contract) -> Descriptor:
    """Describe a licence of the vocabulary ``licence``."""
    return _held(name=name, title=contract.vocabularies["licence"].terms.get(name))


def package_descriptor(
    *,
    name: str,
    title: str,
    description: str,
    version: str,
    created: str,
    licences: Sequence[Descriptor],
    contributors: Sequence[Contributor],
    resources: Sequence[Descriptor],
    sources: Sequence[Mapping[str, str]] = (),
    keywords: Sequence[str] = (),
    homepage: str | None = None,
    further: Mapping[str, Any] | None = None,
) -> Descriptor:
    """Make the descriptor of a whole package.

    Args:
        name: Lower-case name, the same for all versions.
        title: Title of the study.
        description: What the package holds, in Markdown.
        version: Version of the package, three numbers.
        created: When it was made, RFC 3339; an input, never the clock.
        licences: From `licence`.
        contributors: Who made it.
        resources: From `resource` and `file_resource`.
        sources: Where the data come from; each with ``title`` and, where known, ``path`` and
            ``version``.
        keywords: Words to find it by.
        homepage: Address of a page about it.
        further: Properties of our own, such as the contract's version.
    """
    return _held(
        **{"$schema": PROFILE},
        name=name,
        title=title,
        description=description,
        homepage=homepage,
        version=version,
        created=created,
        keywords=list(keywords),
        licenses=list(licences),
        contributors=[person.as_dict() for person in contributors],
        sources=[dict(source) for source in sources],
        **(further or {}),
        resources=list(resources),
    )
