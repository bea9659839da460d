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

_TO_2: Final = (
    "CREATE TABLE column_map (number INTEGER NOT NULL, name TEXT NOT NULL, columns JSON NOT NULL,"
    " made_by TEXT NOT NULL, made_at VARCHAR(32) NOT NULL, PRIMARY KEY (number))",
    "CREATE TRIGGER column_map_update BEFORE UPDATE ON column_map"
    " BEGIN SELECT RAISE(ABORT, 'column_map is append-only'); END",
    "CREATE TRIGGER column_map_delete BEFORE DELETE ON column_map"
    " BEGIN SELECT RAISE(ABORT, 'column_map is append-only'); END",
    "CREATE TRIGGER column_map_insert BEFORE INSERT ON column_map"
    " WHEN EXISTS (SELECT 1 FROM column_map WHERE number = NEW.number)"
    " BEGIN SELECT RAISE(ABORT, 'column_map is append-only'); END",
    "CREATE TABLE sign_off (number INTEGER NOT NULL, id TEXT NOT NULL, statement TEXT NOT NULL,"
    " subject_kind TEXT NOT NULL, subject_id TEXT NOT NULL, name TEXT NOT NULL, role TEXT NOT NULL,"
    " given_on DATE NOT NULL, until DATE, recorded_by TEXT NOT NULL, PRIMARY KEY (number), UNIQUE (id))",
    "CREATE TRIGGER sign_off_update BEFORE UPDATE ON sign_off"
    " BEGIN SELECT RAISE(ABORT, 'sign_off is append-only'); END",
    "CREATE TRIGGER sign_off_delete BEFORE DELETE ON sign_off"
    " BEGIN SELECT RAISE(ABORT, 'sign_off is append-only'); END",
    "CREATE TRIGGER sign_off_insert BEFORE INSERT ON sign_off"
    " WHEN EXISTS (SELECT 1 FROM sign_off WHERE number = NEW.number OR id = NEW.id)"
    " BEGIN SELECT RAISE(ABORT, 'sign_off is append-only'); END",
)

_TO_3: Final = (
    "CREATE TABLE attachment (sha256 TEXT NOT NULL, media_type TEXT NOT NULL, content BLOB NOT NULL,"
    " PRIMARY KEY (sha256))",
    "CREATE TRIGGER attachment_update BEFORE UPDATE ON attachment"
    " BEGIN SELECT RAISE(ABORT, 'attachment is append-only'); END",
    "CREATE TRIGGER attachment_delete BEFORE DELETE ON attachment"
    " BEGIN SELECT RAISE(ABORT, 'attachment is append-only'); END",
    "CREATE TRIGGER attachment_insert BEFORE INSERT ON attachment"
    " WHEN EXISTS (SELECT 1 FROM attachment WHERE sha256 = NEW.sha256)"
    " BEGIN SELECT RAISE(ABORT, 'attachment is append-only'); END",
    "CREATE TABLE work (number INTEGER NOT NULL, id TEXT NOT NULL, task TEXT NOT NULL, deed TEXT NOT NULL,"
    " value TEXT NOT NULL, quantity TEXT, attachment TEXT, done_at VARCHAR(32) NOT NULL,"
    " received_at VARCHAR(32) NOT NULL, done_by TEXT NOT NULL, corrects TEXT, PRIMARY KEY (number), UNIQUE (id),"
    " FOREIGN KEY(attachment) REFERENCES attachment (sha256), FOREIGN KEY(corrects) REFERENCES work (id))",
    "CREATE TRIGGER work_update BEFORE UPDATE ON work BEGIN SELECT RAISE(ABORT, 'work is append-only'); END",
    "CREATE TRIGGER work_delete BEFORE DELETE ON work BEGIN SELECT RAISE(ABORT, 'work is append-only'); END",
    "CREATE TRIGGER work_insert BEFORE INSERT ON work"
    " WHEN EXISTS (SELECT 1 FROM work WHERE number = NEW.number OR id = NEW.id)"
    " BEGIN SELECT RAISE(ABORT, 'work is append-only'); END",
    "CREATE TABLE trail (number INTEGER NOT NULL, at VARCHAR(32) NOT NULL, done_by TEXT NOT NULL, act TEXT NOT NULL,"
    " about TEXT NOT NULL, PRIMARY KEY (number))",
    "CREATE TRIGGER trail_update BEFORE UPDATE ON trail BEGIN SELECT RAISE(ABORT, 'trail is append-only'); END",
    "CREATE TRIGGER trail_delete BEFORE DELETE ON trail BEGIN SELECT RAISE(ABORT, 'trail is append-only'); END",
    "CREATE TRIGGER trail_insert BEFORE INSERT ON trail WHEN EXISTS (SELECT 1 FROM trail WHERE number = NEW.number)"
    " BEGIN SELECT RAISE(ABORT, 'trail is append-only'); END",
)

SCHEMA_LIFTS: Final[Mapping[int, tuple[str, ...]]] = MappingProxyType({1: _TO_2, 2: _TO_3})
"""By schema: the SQL statements that bring a book's tables to the next.

Schema 2 has column maps and sign-offs; schema 3 work records, photographs and the trail.
"""


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
