"""A site as a document: JSON with the number of its form, and back.

The form is described by a JSON Schema that ``document_schema`` makes from the dataclasses. Older forms are lifted to
the present one by ``migrations`` before they are read. A field that the form does not know is a mistake, never dropped.
"""

from collections import Counter
from functools import cache
from typing import Any, Final

from pydantic import ConfigDict, TypeAdapter, ValidationError
from pydantic_core import from_json, to_json

from doorwright.kernel.errors import Mistake, Refused
from doorwright.model.site import PARTS, Site
from doorwright.store.migrations import lift_document

FORM: Final = 1
"""The number of the present document form. Raise it, and write a migration, when an old document would not read."""

_NOT_A_DOCUMENT: Final = "this is not a Doorwright document"
_REMEDY: Final = "Correct the value, or export the document again."


@cache
def _site() -> TypeAdapter[tuple[Site]]:
    # Dataclasses take the settings of what holds them: the tuple of one is there to hold them.
    return TypeAdapter(
        tuple[Site], config=ConfigDict(extra="forbid", allow_inf_nan=False, ser_json_inf_nan="constants")
    )


def dump(site: Site) -> bytes:
    """Return the document of a site, UTF-8 JSON. Fields at their defaults are left out."""
    # A value of the wrong type is found by ``load``, which names its place, so the serializer need not warn of it.
    site_json = _site().dump_json((site,), exclude_defaults=True, warnings="none")[1:-1]
    return b'{"form":' + to_json(FORM) + b',"site":' + site_json + b"}"


def load(document: bytes) -> Site:
    """Return the site of a document.

    Raises:
        Refused: it is no document, comes from a newer Doorwright, or has unknown fields or wrong values (all are
            listed).
    """
    try:
        body: Any = from_json(document)
    except ValueError as error:
        raise Refused(f"{_NOT_A_DOCUMENT}: {error}") from error
    if not isinstance(body, dict) or type(body.get("form")) is not int or "site" not in body:
        raise Refused(f"{_NOT_A_DOCUMENT}: it has no form number or no site")
    form: int = body["form"]
    if form > FORM:
        raise Refused(
            f"this document has form {form}; this Doorwright reads forms up to {FORM}",
            remedy="Open it with the newer Doorwright that wrote it.",
        )
    if form < 1:
        raise Refused(f"{_NOT_A_DOCUMENT}: forms count from 1, this one is {form}")
    body = lift_document(body, FORM)
    mistakes = [
        Mistake(where=name, read=str(value)[:80], problem="unknown field", remedy=_REMEDY)
        for name, value in body.items()
        if name not in ("form", "site")
    ]
    try:
        (site,) = _site().validate_python((body["site"],))
    except ValidationError as error:
        mistakes += _mistakes(error)
    else:
        mistakes += _repeated(site)
    if mistakes:
        raise Refused("the document has wrong values", remedy=_REMEDY, mistakes=tuple(mistakes))
    return site


def _mistakes(error: ValidationError) -> list[Mistake]:
    return [
        Mistake(
            where=".".join(["site", *(str(step) for step in fault["loc"][1:])]),
            read=str(fault["input"])[:80],
            problem="unknown field" if fault["type"] == "unexpected_keyword_argument" else fault["msg"],
            remedy=_REMEDY,
        )
        for fault in error.errors(include_url=False)
    ]


def _repeated(site: Site) -> list[Mistake]:
    """Return a mistake for each identifier that two parts of one kind share: neither could be told from the other."""
    found = []
    for kind in PARTS:
        table = site.table(kind)
        if len({part.id for part in table}) < len(table):
            found += [
                Mistake(
                    where=f"site.{kind.TABLE}",
                    read=ident,
                    problem=f"{times} parts have this identifier",
                    remedy=_REMEDY,
                )
                for ident, times in Counter(part.id for part in table).items()
                if times > 1
            ]
    return found


def document_schema() -> dict[str, Any]:
    """Return the JSON Schema (2020-12) of the document."""
    definitions = _site().json_schema(ref_template="#/$defs/{model}")["$defs"]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "Doorwright document",
        "type": "object",
        "required": ["form", "site"],
        "additionalProperties": False,
        "properties": {"form": {"const": FORM}, "site": {"$ref": "#/$defs/Site"}},
        "$defs": definitions,
    }
