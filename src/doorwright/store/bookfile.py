"""A book as one SQLite file: how it is made, recognised and opened, and what SQLite's errors mean to its user.

Durability comes before speed: the rollback journal is deleted with each commit (no side files at rest), and
``synchronous=EXTRA`` also syncs the folder after that, so a confirmed save survives a pulled plug.
No file handle and no lock is held between two requests.
"""

import errno
import os
import secrets
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from functools import partial
from pathlib import Path
from typing import Final
from urllib.parse import quote

from pydantic_core import to_json
from sqlalchemy import Connection, Engine, NullPool, create_engine, event
from sqlalchemy.exc import DBAPIError

from doorwright.kernel.errors import Refused
from doorwright.store.migrations import schema_statements
from doorwright.store.tables import METADATA

APPLICATION_ID: Final = 0x44777274
"""The four bytes ``Dwrt``, big-endian at byte 68 of the file, by which a book is recognised."""

SCHEMA: Final = 3
"""The number of the present tables, kept as SQLite's ``user_version``."""

BUSY_S: Final = 2.0
"""How long to wait for another program that is writing."""

_MAGIC: Final = b"SQLite format 3\0"
_HEADER_BYTES: Final = 100
_PRAGMAS: Final = (
    "foreign_keys = ON",
    "recursive_triggers = ON",
    "trusted_schema = OFF",
    "cell_size_check = ON",
    "temp_store = MEMORY",
    "secure_delete = ON",
    "fullfsync = ON",
    "synchronous = EXTRA",
)
_RESTORE: Final = "Restore it from a copy. Keep the damaged file: parts of it may still be readable."


def engine_of(location: Path, mode: str) -> Engine:
    """Return an engine that opens a connection for each request: ``mode`` is "ro", "rw" or "rwc" (make the file)."""
    engine = create_engine(
        "sqlite://",
        creator=partial(_connect, location, mode),
        poolclass=NullPool,
        hide_parameters=True,
        json_serializer=lambda value: to_json(value).decode(),
    )
    event.listen(engine, "begin", _begin)
    return engine


def _begin(connection: Connection) -> None:
    # A writer takes the lock before it reads, so that what it read still holds when it writes.
    writing = connection.get_execution_options().get("writing", False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if writing else "BEGIN")


def _connect(location: Path, mode: str) -> sqlite3.Connection:
    connection = _settled(location, mode)
    try:
        if mode == "ro" and (found := _schema_of(connection)) < SCHEMA:
            return _lifted_copy(connection, found)
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def _open(location: Path, mode: str) -> sqlite3.Connection:
    # A path such as C:/... or //server/... needs slashes before it to be a path in a URI (RFC 8089, appendix E).
    posix = location.absolute().as_posix()
    uri = f"file://{'' if posix.startswith('/') else '/'}{quote(posix)}?mode={mode}"
    connection = sqlite3.connect(uri, uri=True, timeout=BUSY_S, isolation_level=None)
    try:
        for pragma in _PRAGMAS:
            connection.execute(f"PRAGMA {pragma}")
        if mode != "ro":
            connection.execute("PRAGMA journal_mode = DELETE")
        connection.execute("SELECT COUNT(*) FROM sqlite_master").fetchone()
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def _schema_of(connection: sqlite3.Connection) -> int:
    found: int = connection.execute("PRAGMA user_version").fetchone()[0]
    return found


def _lifted_copy(connection: sqlite3.Connection, found: int) -> sqlite3.Connection:
    """Return an older book, which may only be read, as a copy in memory with the present tables."""
    copy = sqlite3.connect(":memory:", isolation_level=None)
    with closing(connection):
        connection.backup(copy)
    _lift(copy, found)
    return copy


def _lift(connection: sqlite3.Connection, found: int) -> None:
    connection.execute("BEGIN IMMEDIATE")
    try:
        for statement in schema_statements(found, SCHEMA):
            connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {SCHEMA}")
        connection.execute("COMMIT")
    except sqlite3.Error:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise


def make_tables(connection: Connection) -> None:
    """Make an empty file into an empty book."""
    connection.exec_driver_sql(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.exec_driver_sql(f"PRAGMA user_version = {SCHEMA}")
    METADATA.create_all(connection, checkfirst=False)


def recognise(location: Path, *, read_only: bool) -> None:
    """See that ``location`` is a book that this Doorwright opens; bring an older one to the present tables.

    Raises:
        Refused: it is not there, is no book, is damaged, comes from a newer Doorwright, or may not be written.
    """
    _recognise_header(location)
    if not read_only and not (_may_write(location) and _may_write(location.parent)):
        raise Refused(
            f"{location} cannot be written: the file or its folder is read-only",
            remedy="Open it for reading, or copy it to a folder of your own.",
        )
    with answers(location):
        with closing(_settled(location, "ro" if read_only else "rw")) as connection:
            found = _schema_of(connection)
            names = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
            if found < 1:
                raise Refused(f"{location} is damaged: it does not say which tables it has", remedy=_RESTORE)
            if found > SCHEMA:
                raise Refused(
                    f"{location} was written by a newer Doorwright (schema {found}; this one knows {SCHEMA})",
                    remedy="Open it with the newer Doorwright.",
                )
            if found < SCHEMA and not read_only:
                _lift(connection, found)
        missing = sorted(METADATA.tables.keys() - names) if found == SCHEMA else []
        if missing:
            raise Refused(f"{location} is damaged: it has no table {', '.join(missing)}", remedy=_RESTORE)


def _recognise_header(location: Path) -> None:
    no_book = f"{location} is not a Doorwright book"
    remedy = "Check the path."
    try:
        if not location.exists():
            raise Refused(f"there is no book at {location}", remedy="Check the path, or make a new book there.")
        if not location.is_file():
            what = "a folder" if location.is_dir() else "no plain file"
            raise Refused(f"{no_book}: it is {what}", remedy=remedy)
        with location.open("rb") as file:
            header = file.read(_HEADER_BYTES)
    except OSError as error:
        raise Refused(f"{location} cannot be read: {error.strerror}", remedy="Ask for the right to read it.") from error
    if not header:
        raise Refused(
            f"{no_book}: it is empty", remedy="Restore it from a copy, or make a new book under another name."
        )
    if not header.startswith(_MAGIC):
        raise Refused(f"{no_book}: it is a file of another kind", remedy=remedy)
    if len(header) < _HEADER_BYTES:
        raise Refused(f"{location} is damaged: it breaks off after {len(header)} bytes", remedy=_RESTORE)
    if int.from_bytes(header[68:72], "big") != APPLICATION_ID:
        raise Refused(f"{no_book}: it is the database of another program", remedy=remedy)


def _settled(location: Path, mode: str) -> sqlite3.Connection:
    """Return a connection to a book without an unfinished write of a program that was stopped in the middle.

    A reader may not undo such a write, so a writer's connection does it first: SQLite then puts the file back to what
    was last confirmed.
    """
    try:
        return _open(location, mode)
    except sqlite3.OperationalError as error:
        if mode != "ro" or error.sqlite_errorcode not in (sqlite3.SQLITE_READONLY_ROLLBACK, sqlite3.SQLITE_CANTOPEN):
            raise
    _heal(location)
    return _open(location, mode)


def _heal(location: Path) -> None:
    try:
        _open(location, "rw").close()
    except sqlite3.OperationalError as error:
        if error.sqlite_errorcode & 0xFF not in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN):
            raise
        raise Refused(
            f"{location} was being written when its program was stopped, and where it lies the write cannot be undone",
            remedy=f"Copy it together with {location.name}-journal to a folder of your own, and open it there.",
        ) from error


def _may_write(location: Path) -> bool:
    return os.access(location, os.W_OK, effective_ids=os.access in os.supports_effective_ids)


@contextmanager
def answers(location: Path) -> Iterator[None]:
    """Turn what SQLite may report for reasons outside of the program into refusals; let our own mistakes through."""
    try:
        yield
    except DBAPIError as error:
        if not isinstance(error.orig, sqlite3.Error) or (refusal := _refusal(location, error.orig)) is None:
            raise
        raise refusal from error
    except sqlite3.Error as error:
        if (refusal := _refusal(location, error)) is None:
            raise
        raise refusal from error


def _refusal(location: Path, error: sqlite3.Error) -> Refused | None:
    match getattr(error, "sqlite_errorcode", 0) & 0xFF:  # the low byte is the primary code: sqlite.org/rescode.html
        case sqlite3.SQLITE_BUSY | sqlite3.SQLITE_LOCKED:
            return Refused(
                f"another program is writing to {location}; nothing was saved", remedy="Try again in a moment."
            )
        case sqlite3.SQLITE_FULL:
            return _full(location)
        case sqlite3.SQLITE_READONLY | sqlite3.SQLITE_CANTOPEN | sqlite3.SQLITE_PERM:
            return _read_only(location)
        case sqlite3.SQLITE_CORRUPT | sqlite3.SQLITE_NOTADB:
            return Refused(f"{location} is damaged: {error}", remedy=_RESTORE)
        case sqlite3.SQLITE_IOERR:
            return Refused(
                f"reading or writing {location} failed: {error}; what was saved before is still there",
                remedy="Check the disk and its free space, and try again.",
            )
        case _:
            return None


def _full(location: Path) -> Refused:
    return Refused(
        f"the disk of {location} is full; nothing was saved, and what was saved before is still there",
        remedy="Free some space and save again.",
    )


def _read_only(location: Path) -> Refused:
    return Refused(
        f"{location} cannot be written: the file, its folder or its disk does not allow it; nothing was saved",
        remedy="Choose a folder of your own, or ask for the right to write there.",
    )


@contextmanager
def placed(location: Path) -> Iterator[Path]:
    """Give a place beside ``location`` to write a file at; afterwards it is at ``location``, whole, or not at all.

    Raises:
        Refused: something is there already, or the folder cannot take the file.
    """
    if os.path.lexists(location):
        raise Refused(f"{location} is there already; nothing was overwritten", remedy="Choose another name.")
    if not location.parent.is_dir():
        raise Refused(f"there is no folder {location.parent}", remedy="Make the folder first, or check the path.")
    draft = location.with_name(f".{secrets.token_hex(8)}.part")
    try:
        yield draft
        _put(draft, location)
    except FileExistsError:
        raise Refused(f"{location} is there already; nothing was overwritten", remedy="Choose another name.") from None
    except OSError as error:
        if error.errno in (errno.ENOSPC, errno.EDQUOT):
            raise _full(location) from error
        if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
            raise _read_only(location) from error
        raise Refused(f"{location} cannot be made: {error.strerror}", remedy="Choose another place or name.") from error
    finally:
        for leftover in (draft, draft.with_name(f"{draft.name}-journal")):
            with suppress(OSError):
                leftover.unlink(missing_ok=True)


def _put(draft: Path, location: Path) -> None:
    """Give the finished file its name without ever overwriting another."""
    try:
        location.hardlink_to(draft)
    except FileExistsError:
        raise
    except OSError:  # a file system without hard links: reserve the name, then replace the reservation
        os.close(os.open(location, os.O_CREAT | os.O_EXCL | os.O_WRONLY))
        try:
            draft.replace(location)
        except OSError:
            location.unlink()
            raise
    if hasattr(os, "O_DIRECTORY"):
        folder = os.open(location.parent, os.O_RDONLY | os.O_DIRECTORY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
