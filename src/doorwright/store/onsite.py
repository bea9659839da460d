"""What is recorded on site in a book: work done, and its photographs. Each function works inside one transaction."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from sqlalchemy import Connection, insert, select

from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.work import Deed, WorkRecord
from doorwright.store import rows
from doorwright.store.given import next_number
from doorwright.store.photograph import Photograph
from doorwright.store.tables import ATTACHMENT, WORK

_IDENT: Final = re.compile(r"[0-9A-Za-z-]{8,64}")
_CHUNK: Final = 500  # identifiers asked for in one statement: SQLite may be built to take no more than 999


def record_work(
    connection: Connection, wanted: Sequence[WorkRecord], photographs: Mapping[str, Photograph]
) -> tuple[WorkRecord, ...]:
    """Record work and return what was new. What is there already, the same, is passed over.

    Args:
        connection: the transaction.
        wanted: what to record, what is corrected before its correction.
        photographs: the pictures that the records name and the book may not have yet, by SHA-256.

    Raises:
        Refused: another record has the same identifier, a correction names none of the same task, or a photograph is
            missing. Nothing was recorded.
    """
    named = {ident for one in wanted for ident in (one.id, one.corrects) if ident is not None}
    known = _records(connection, sorted(named))
    pictures = {row.sha256 for row in connection.execute(select(ATTACHMENT.c.sha256))} if photographs else set()
    new: dict[str, WorkRecord] = {}
    mistakes: list[Mistake] = []
    for one in wanted:
        there = known.get(one.id) or new.get(one.id)
        if there is not None and there.says_the_same(one):
            continue
        problem = _problem(one, there, known | new)
        if problem is None and one.deed is Deed.PHOTOGRAPH and one.value not in pictures:
            if one.value in photographs:
                connection.execute(insert(ATTACHMENT), photographs[one.value].row())
                pictures.add(one.value)
            else:
                problem = "its picture is missing", "Send the picture with it."
        if problem is not None:
            mistakes.append(
                Mistake(where=f"record {one.id[:64]}", read=one.deed, problem=problem[0], remedy=problem[1])
            )
        new.setdefault(one.id, one)
    if mistakes:
        raise Refused("this work cannot be recorded; nothing was", mistakes=tuple(mistakes))
    if new:
        start = next_number(connection, WORK)
        connection.execute(insert(WORK), [rows.work_values(one, n) for n, one in enumerate(new.values(), start)])
    return tuple(new.values())


def _problem(one: WorkRecord, there: WorkRecord | None, known: Mapping[str, WorkRecord]) -> tuple[str, str] | None:
    if not _IDENT.fullmatch(one.id):
        return "this is no identifier", "Give 8 to 64 letters, digits and dashes."
    if there is not None:
        return "another record has this identifier", "Record it under an identifier of its own."
    if one.corrects is not None:
        old = known.get(one.corrects)
        if old is None:
            return f"it corrects {one.corrects[:64]}, which is not in the book", "Send what it corrects first."
        if old.task != one.task:
            return "it corrects a record of another task", "Correct a record of the same task."
    return None


def _records(connection: Connection, idents: list[str]) -> dict[str, WorkRecord]:
    found: dict[str, WorkRecord] = {}
    for start in range(0, len(idents), _CHUNK):
        statement = select(WORK).where(WORK.c.id.in_(idents[start : start + _CHUNK]))
        found.update((row.id, rows.work(row)) for row in connection.execute(statement))
    return found


@dataclass(frozen=True, slots=True)
class Numbered:
    """Records in order of recording, and the number of the last of all that the book has."""

    records: tuple[WorkRecord, ...]
    last: int


def work_since(connection: Connection, number: int) -> Numbered:
    """Return what was recorded after a number, the oldest first."""
    found = connection.execute(select(WORK).where(WORK.c.number > number).order_by(WORK.c.number)).all()
    return Numbered(tuple(rows.work(row) for row in found), found[-1].number if found else number)
