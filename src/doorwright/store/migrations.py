"""Old documents and old books, lifted step by step to the present form, so that they open for ever.

Two numbers grow on their own: the form of a document (``codec.FORM``), lifted in memory each time it is read and never
rewritten, and the schema of a book's tables (``bookfile.SCHEMA``), lifted once, inside one transaction.
A step, once released, is never changed: it was written for files that are out in the world.
"""

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any, Final, TypeAlias

Document: TypeAlias = dict[str, Any]
"""A document as parsed from JSON: its ``form`` and its ``site``."""

DOCUMENT_LIFTS: Final[Mapping[int, Callable[[Document], Document]]] = MappingProxyType({})
"""By form: the function that returns a document of that form as one of the next. Form 1 is the first and the last."""

SCHEMA_LIFTS: Final[Mapping[int, tuple[str, ...]]] = MappingProxyType({})
"""By schema: the SQL statements that bring a book's tables to the next. Schema 1 is the first and the last."""


def lift_document(
    document: Document, to: int, lifts: Mapping[int, Callable[[Document], Document]] = DOCUMENT_LIFTS
) -> Document:
    """Return ``document``, whose form is at most ``to``, as one of form ``to``."""
    for form in range(document["form"], to):
        document = {**lifts[form](document), "form": form + 1}
    return document


def schema_statements(found: int, to: int, lifts: Mapping[int, tuple[str, ...]] = SCHEMA_LIFTS) -> tuple[str, ...]:
    """Return the SQL that brings a book of schema ``found`` to schema ``to``, in order."""
    return tuple(statement for schema in range(found, to) for statement in lifts[schema])
