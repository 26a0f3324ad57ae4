"""Prints every table of the release in this folder as JSON; run where PyPI datapackage is."""

import datetime as dt
import decimal
import json
import warnings

warnings.simplefilter("ignore")
import datapackage  # noqa: E402 - it warns while it is imported

TYPES = {
    "string": str, "integer": int, "number": decimal.Decimal, "boolean": bool,
    "date": dt.date, "datetime": dt.datetime,
}  # fmt: skip


def told(kind: str, value: object) -> object:
    """Give a value as JSON can hold it; one of another type with the name of its type."""
    if value is None:
        return None
    if not isinstance(value, TYPES[kind]):
        return [type(value).__name__, str(value)]
    return value if kind in {"string", "integer", "boolean"} else str(value)


package = datapackage.Package("datapackage.json")
if not package.valid:
    raise SystemExit(str(package.errors))
print(
    json.dumps(
        {
            resource.name: [
                [told(f.type, v) for f, v in zip(resource.schema.fields, row, strict=True)]
                for row in resource.read(cast=True)
            ]
            for resource in package.resources
            if resource.tabular and resource.descriptor["path"].endswith(".csv")
        }
    )
)
