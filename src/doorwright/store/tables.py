"""The tables of a book, as docs/reference/book-format.md describes them.

What has happened is never rewritten: triggers forbid to change or delete a revision, an observation, a column map, a
waiver, its ending, a sign-off, an artefact, a photograph, a record of work, a line of the trail or a sealed secret,
whichever program asks.
"""

from datetime import UTC, datetime
from typing import Any, Final

from sqlalchemy import (
    DDL,
    JSON,
    CheckConstraint,
    Column,
    Date,
    Dialect,
    ForeignKey,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    event,
)
from sqlalchemy.types import TypeDecorator


class Instant(TypeDecorator[datetime]):
    """A moment, kept as RFC 3339 text in UTC to the microsecond: every tool reads it, and it sorts as it should."""

    impl = String(32)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> str | None:  # noqa: ARG002
        """Return the text of a moment.

        Raises:
            ValueError: the moment names no time zone, so nobody could tell which moment it is.
        """
        if value is None:
            return None
        if value.utcoffset() is None:
            raise ValueError(f"{value!r} names no time zone")
        return value.astimezone(UTC).isoformat(timespec="microseconds").replace("+00:00", "Z")

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Return the moment of a text."""
        return None if value is None else datetime.fromisoformat(value)


METADATA: Final = MetaData()

REVISION: Final = Table(
    "revision",
    METADATA,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("parent", Integer, ForeignKey("revision.number")),
    Column("made_at", Instant, nullable=False),
    Column("made_by", Text, nullable=False),
    Column("message", Text, nullable=False),
    Column("form", Integer, nullable=False),
    Column("tallies", JSON(none_as_null=True), nullable=False),
    Column("document", LargeBinary, nullable=False),  # last: SQLite need not read through it for the history
)

OBSERVATION: Final = Table(
    "observation",
    METADATA,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("id", Text, nullable=False, unique=True),
    Column("stage", Text, nullable=False),
    Column("subject_kind", Text, nullable=False),
    Column("subject_id", Text, nullable=False),
    Column("aspect", Text, nullable=False),
    Column("value", Text, nullable=False),
    Column("seen_at", Instant, nullable=False),
    Column("seen_by", Text, nullable=False),
    Column("corrects", Text, ForeignKey("observation.id")),
)

COLUMN_MAP: Final = Table(
    "column_map",
    METADATA,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("name", Text, nullable=False),
    Column("columns", JSON(none_as_null=True), nullable=False),
    Column("made_by", Text, nullable=False),
    Column("made_at", Instant, nullable=False),
)

WAIVER: Final = Table(
    "waiver",
    METADATA,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("id", Text, nullable=False, unique=True),
    Column("rule", Text, nullable=False),
    Column("subjects", JSON(none_as_null=True), nullable=False),
    Column("reason", Text, nullable=False),
    Column("given_by", Text, nullable=False),
    Column("given_on", Date, nullable=False),
    Column("until", Date, nullable=False),
)

WAIVER_END: Final = Table(
    "waiver_end",
    METADATA,
    Column("waiver", Text, ForeignKey("waiver.id"), primary_key=True),
    Column("ended_by", Text, nullable=False),
    Column("ended_on", Date, nullable=False),
)

SIGN_OFF: Final = Table(
    "sign_off",
    METADATA,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("id", Text, nullable=False, unique=True),
    Column("statement", Text, nullable=False),
    Column("subject_kind", Text, nullable=False),
    Column("subject_id", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("role", Text, nullable=False),
    Column("given_on", Date, nullable=False),
    Column("until", Date),
    Column("recorded_by", Text, nullable=False),
)

ARTEFACT: Final = Table(
    "artefact",
    METADATA,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("revision", Integer, ForeignKey("revision.number"), nullable=False),
    Column("name", Text, nullable=False),
    Column("media_type", Text, nullable=False),
    Column("bytes_count", Integer, nullable=False),
    Column("sha256", Text, nullable=False),
    Column("made_at", Instant, nullable=False),
)

ATTACHMENT: Final = Table(
    "attachment",
    METADATA,
    Column("sha256", Text, primary_key=True),
    Column("media_type", Text, nullable=False),
    Column("content", LargeBinary, nullable=False),
)

WORK: Final = Table(
    "work",
    METADATA,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("id", Text, nullable=False, unique=True),
    Column("task", Text, nullable=False),
    Column("deed", Text, nullable=False),
    Column("value", Text, nullable=False),
    Column("quantity", Text),
    Column("attachment", Text, ForeignKey("attachment.sha256")),
    Column("done_at", Instant, nullable=False),
    Column("received_at", Instant, nullable=False),
    Column("done_by", Text, nullable=False),
    Column("corrects", Text, ForeignKey("work.id")),
)

TRAIL: Final = Table(
    "trail",
    METADATA,
    Column("number", Integer, primary_key=True, autoincrement=False),
    Column("at", Instant, nullable=False),
    Column("done_by", Text, nullable=False),
    Column("act", Text, nullable=False),
    Column("about", Text, nullable=False),
)

VAULT_HEADER: Final = Table(
    "vault_header",
    METADATA,
    Column("number", Integer, CheckConstraint("number = 1"), primary_key=True, autoincrement=False),
    Column("header", LargeBinary, nullable=False),
)

VAULT_ENTRY: Final = Table(
    "vault_entry",
    METADATA,
    Column("id", Text, primary_key=True),
    Column("revision", Integer, ForeignKey("revision.number"), primary_key=True, autoincrement=False),
    Column("sealed", LargeBinary, nullable=False),
)


def _append_only(table: Table, there_already: str) -> None:
    """Forbid changing and deleting rows, and inserting one that is ``there_already``: REPLACE would delete the old."""
    for action, when in (("update", ""), ("delete", ""), ("insert", f"WHEN {there_already} ")):
        event.listen(
            table,
            "after_create",
            DDL(  # type: ignore[no-untyped-call]
                f"CREATE TRIGGER {table.name}_{action} BEFORE {action.upper()} ON {table.name} {when}"
                f"BEGIN SELECT RAISE(ABORT, '{table.name} is append-only'); END"
            ).execute_if(dialect="sqlite"),
        )


_append_only(
    REVISION,
    "NEW.number IS NOT (SELECT COALESCE(MAX(number), 0) + 1 FROM revision)"
    " OR NEW.parent IS NOT (SELECT MAX(number) FROM revision)",
)
_append_only(OBSERVATION, "EXISTS (SELECT 1 FROM observation WHERE number = NEW.number OR id = NEW.id)")
_append_only(COLUMN_MAP, "EXISTS (SELECT 1 FROM column_map WHERE number = NEW.number)")
_append_only(WAIVER, "EXISTS (SELECT 1 FROM waiver WHERE number = NEW.number OR id = NEW.id)")
_append_only(WAIVER_END, "EXISTS (SELECT 1 FROM waiver_end WHERE waiver = NEW.waiver)")
_append_only(SIGN_OFF, "EXISTS (SELECT 1 FROM sign_off WHERE number = NEW.number OR id = NEW.id)")
_append_only(ARTEFACT, "EXISTS (SELECT 1 FROM artefact WHERE number = NEW.number)")
_append_only(ATTACHMENT, "EXISTS (SELECT 1 FROM attachment WHERE sha256 = NEW.sha256)")
_append_only(WORK, "EXISTS (SELECT 1 FROM work WHERE number = NEW.number OR id = NEW.id)")
_append_only(TRAIL, "EXISTS (SELECT 1 FROM trail WHERE number = NEW.number)")
_append_only(VAULT_ENTRY, "EXISTS (SELECT 1 FROM vault_entry WHERE id = NEW.id AND revision = NEW.revision)")
