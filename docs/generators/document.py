"""The document of a site: its JSON Schema, and an overview of it."""

import json
from collections.abc import Iterator
from typing import Any, Final

from doorwright.store.codec import FORM, document_schema
from generators import markdown
from generators.markdown import code, plain, table

_INTRO: Final = f"""
A document is a site as JSON in UTF-8: `doorwright export BOOK --format json` and `doorwright pack` write it. It is an
object with the number of its form, now {FORM}, and the site. Fields at their defaults are left out. A field that the
form does not know is a mistake. A document holds no secret.

References are identifiers: `core` of a dwelling is the `id` of a core. Identifiers are made once and encode nothing.
Units stand in the names of fields: `length_m` is in metres.

The whole schema, JSON Schema 2020-12: {{download}}`document.schema.json`.
"""


def schema() -> str:
    """Return the JSON Schema."""
    return json.dumps(document_schema(), indent=1, ensure_ascii=False) + "\n"


def page() -> str:
    """Return the overview."""
    definitions: dict[str, Any] = document_schema()["$defs"]
    ordered = ["Site", *(name for name in definitions if name != "Site")]
    return markdown.page("Document", _INTRO, *(block for name in ordered for block in _part(name, definitions[name])))


def _part(name: str, definition: dict[str, Any]) -> Iterator[str]:
    yield f"## {name}"
    for paragraph in definition.get("description", "").split("\n\n"):
        yield plain(" ".join(paragraph.split()))
    if "enum" in definition:
        yield "\n".join(f"- `{value}`" for value in definition["enum"])
        return
    required = definition.get("required", ())
    yield table(
        ("field", "holds", "needed", "default"),
        [
            (code(field), _type(wanted), "yes" if field in required else "", code(_default(wanted)))
            for field, wanted in definition["properties"].items()
        ],
    )


def _type(wanted: dict[str, Any]) -> str:
    if "$ref" in wanted:
        return str(wanted["$ref"]).rpartition("/")[2]
    if "anyOf" in wanted:
        return " or ".join(_type(one) for one in wanted["anyOf"])
    if "prefixItems" in wanted:
        return f"pair of {' and '.join(_type(one) for one in wanted['prefixItems'])}"
    if wanted.get("type") == "array":
        return f"list of {_type(wanted['items'])}"
    return str(wanted.get("const", wanted.get("type", "anything")))


def _default(wanted: dict[str, Any]) -> str:
    if "default" not in wanted or isinstance(wanted["default"], dict):
        return ""
    return json.dumps(wanted["default"], ensure_ascii=False)
