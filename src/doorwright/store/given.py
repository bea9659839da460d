"""What people give a book: what they saw, what they accept, what they put their name to.

Each function works inside the transaction of a request and refuses before it writes, so that nothing is half done.
"""

from collections.abc import Iterable
from datetime import date
from typing import Final

from sqlalchemy import Connection, Table, func, insert, select

from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.observation import Observation
from doorwright.kernel.signoff import SignOff
from doorwright.kernel.waiver import Waiver
from doorwright.store import rows
from doorwright.store.tables import OBSERVATION, SIGN_OFF, WAIVER, WAIVER_END

_CHUNK: Final = 500  # identifiers asked for in one statement: SQLite may be built to take no more than 999


def next_number(connection: Connection, table: Table) -> int:
    """Return the number of the next row of a table that is numbered from 1 in the order of recording."""
    return int(connection.execute(select(func.coalesce(func.max(table.c.number), 0) + 1)).scalar_one())


# observations


def observe(connection: Connection, wanted: tuple[Observation, ...]) -> int:
    """Record what was seen and return how many were new. One that is there already, the same, is passed over.

    Raises:
        Refused: another observation has the same identifier, or a correction names none.
    """
    named = {ident for seen in wanted for ident in (seen.id, seen.corrects) if ident is not None}
    known = _observations_by_id(connection, sorted(named))
    new: dict[str, Observation] = {}
    mistakes = []
    for seen in wanted:
        there = known.get(seen.id) or new.get(seen.id)
        if there == seen:
            continue
        if there is not None:
            mistakes.append(_observation_mistake(seen, "another observation has this identifier"))
        elif seen.corrects is not None and seen.corrects not in known and seen.corrects not in new:
            mistakes.append(_observation_mistake(seen, f"it corrects {seen.corrects}, which is not in the book"))
        new.setdefault(seen.id, seen)
    if mistakes:
        raise Refused("these observations cannot be recorded; none was", mistakes=tuple(mistakes))
    if new:
        start = next_number(connection, OBSERVATION)
        values = [rows.observation_values(seen, number) for number, seen in enumerate(new.values(), start)]
        connection.execute(insert(OBSERVATION), values)
    return len(new)


def _observations_by_id(connection: Connection, idents: list[str]) -> dict[str, Observation]:
    found: dict[str, Observation] = {}
    for start in range(0, len(idents), _CHUNK):
        statement = select(OBSERVATION).where(OBSERVATION.c.id.in_(idents[start : start + _CHUNK]))
        found.update((row.id, rows.observation(row)) for row in connection.execute(statement))
    return found


def _observation_mistake(seen: Observation, problem: str) -> Mistake:
    return Mistake(
        where=f"observation {seen.id}",
        read=f"{seen.aspect} of {seen.subject.kind} {seen.subject.id}: {seen.value}",
        problem=problem,
        remedy="Record it under an identifier of its own; a correction names an observation of this book.",
    )


# waivers


def waive(connection: Connection, waiver: Waiver) -> None:
    """Record a waiver.

    Raises:
        Refused: it gives no reason or name, ends before it begins, or its identifier is taken.
    """
    _refuse(
        "the waiver cannot be recorded",
        f"waiver of {waiver.rule}",
        (
            (not waiver.reason.strip(), waiver.reason, "it gives no reason", "Say why the finding is accepted."),
            (not waiver.by.strip(), waiver.by, "nobody answers for it", "Name who accepts the finding."),
            (waiver.until < waiver.on, str(waiver.until), "it ends before it begins", "Give a later last day."),
        ),
    )
    _refuse_taken(connection, WAIVER, "waiver", waiver.id)
    connection.execute(insert(WAIVER), rows.waiver_values(waiver, next_number(connection, WAIVER)))


def end_waiver(connection: Connection, ident: str, *, by: str, on: date) -> None:
    """End a waiver: from ``on`` it covers nothing.

    Raises:
        Refused: the book has no such waiver, it was ended already, or ``on`` lies before its first day.
    """
    given_on = connection.execute(select(WAIVER.c.given_on).where(WAIVER.c.id == ident)).scalar_one_or_none()
    if given_on is None:
        raise Refused(f"the book has no waiver {ident}", remedy="Look up its identifier in the list of waivers.")
    ended = connection.execute(select(WAIVER_END).where(WAIVER_END.c.waiver == ident)).one_or_none()
    if ended is not None:
        raise Refused(
            f"waiver {ident} was ended by {ended.ended_by} on {ended.ended_on} already",
            remedy="Nothing is left to do.",
        )
    if on < given_on:
        raise Refused(f"waiver {ident} began on {given_on} and cannot end on {on}", remedy="Give a later day.")
    connection.execute(insert(WAIVER_END), {"waiver": ident, "ended_by": by, "ended_on": on})


# sign-offs


def sign_off(connection: Connection, signed: SignOff) -> None:
    """Record a person's word.

    Raises:
        Refused: it gives no name or role, ends before its day, or its identifier is taken.
    """
    ends_early = signed.until is not None and signed.until < signed.on
    _refuse(
        "the sign-off cannot be recorded",
        f'sign-off "{signed.statement}"',
        (
            (not signed.name.strip(), signed.name, "nobody is named", "Name the person whose word it is."),
            (not signed.role.strip(), signed.role, "no role is given", "Say as what the person gives their word."),
            (ends_early, str(signed.until), "it ends before its day", "Give a later last day."),
        ),
    )
    _refuse_taken(connection, SIGN_OFF, "sign-off", signed.id)
    connection.execute(insert(SIGN_OFF), rows.sign_off_values(signed, next_number(connection, SIGN_OFF)))


def _refuse(message: str, where: str, cases: Iterable[tuple[bool, str, str, str]]) -> None:
    """Refuse with every case that is wrong: whether it is, what was read, the problem and the remedy."""
    mistakes = tuple(
        Mistake(where=where, read=read, problem=problem, remedy=remedy)
        for wrong, read, problem, remedy in cases
        if wrong
    )
    if mistakes:
        raise Refused(message, mistakes=mistakes)


def _refuse_taken(connection: Connection, table: Table, what: str, ident: str) -> None:
    if connection.execute(select(table.c.id).where(table.c.id == ident)).first() is not None:
        raise Refused(f"the book has a {what} {ident} already", remedy="Give the new one its own identifier.")
