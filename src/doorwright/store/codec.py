"""A site as a document: JSON with the number of its form, and back.

The form is described by a JSON Schema that ``document_schema`` makes from the dataclasses. Older forms are lifted to
the present one by ``migrations`` before they are read.
"""

from functools import cache
from typing import Any, Final

from pydantic import TypeAdapter, ValidationError
from pydantic_core import from_json, to_json

from doorwright.kernel.errors import Mistake, Refused
from doorwright.model.site import Site

FORM: Final = 1
"""The number of the present document form. Raise it, and write a migration, when an old document would not read."""


@cache
def _site() -> TypeAdapter[Site]:
    return TypeAdapter(Site)


def dump(site: Site) -> bytes:
    """Return the document of a site, UTF-8 JSON. Fields at their defaults are left out."""
    return to_json({"form": FORM, "site": _site().dump_python(site, mode="json", exclude_defaults=True)})


def load(document: bytes) -> Site:
    """Return the site of a document.

    Raises:
        Refused: it is no document, comes from a newer Doorwright, or some values are wrong (all are listed).
    """
    try:
        body: Any = from_json(document)
    except ValueError as error:
        raise Refused(f"this is not a Doorwright document: {error}") from error
    if not isinstance(body, dict) or not isinstance(body.get("form"), int) or "site" not in body:
        raise Refused("this is not a Doorwright document: it has no form number or no site")
    if body["form"] > FORM:
        raise Refused(
            f"this document has form {body['form']}; this Doorwright reads forms up to {FORM}",
            remedy="Open it with the newer Doorwright that wrote it.",
        )
    try:
        return _site().validate_python(body["site"])
    except ValidationError as error:
        raise Refused("the document has wrong values", mistakes=tuple(_mistakes(error))) from error


def _mistakes(error: ValidationError) -> list[Mistake]:
    return [
        Mistake(
            where=".".join(str(step) for step in fault["loc"]),
            read=str(fault["input"])[:80],
            problem=fault["msg"],
            remedy="Correct the value, or export the document again.",
        )
        for fault in error.errors(include_url=False)
    ]


def document_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of the document."""
    site = _site().json_schema(ref_template="#/$defs/{model}")
    definitions = site.pop("$defs", {})
    definitions["Site"] = site
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Doorwright document",
        "type": "object",
        "required": ["form", "site"],
        "properties": {"form": {"const": FORM}, "site": {"$ref": "#/$defs/Site"}},
        "$defs": definitions,
    }
