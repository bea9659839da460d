"""Between the rows of a book's tables and the values they stand for."""

from datetime import timedelta
from typing import Any, TypeAlias

from sqlalchemy import Row

from doorwright.kernel.observation import Observation, Stage
from doorwright.kernel.signoff import SignOff, Statement
from doorwright.kernel.trail import Act, Trace
from doorwright.kernel.verdict import Subject
from doorwright.kernel.waiver import Waiver
from doorwright.kernel.work import Deed, Quantity, WorkRecord
from doorwright.store.record import Artefact, ColumnMap, Revision, Tally, WaiverEnd

Values: TypeAlias = dict[str, Any]
"""One row to insert, by column."""


def tally_json(tally: Tally) -> Values:
    """Return a tally as it stands in the column ``tallies``."""
    return {
        "kind": tally.kind,
        "added": tally.added_count,
        "removed": tally.removed_count,
        "changed": tally.changed_count,
    }


def revision(row: Row[Any]) -> Revision:
    """Return the revision that a row holds."""
    return Revision(
        number=row.number,
        parent=row.parent,
        made_at=row.made_at,
        made_by=row.made_by,
        message=row.message,
        tallies=tuple(
            Tally(
                kind=counts["kind"],
                added_count=counts["added"],
                removed_count=counts["removed"],
                changed_count=counts["changed"],
            )
            for counts in row.tallies
        ),
    )


def observation_values(seen: Observation, number: int) -> Values:
    """Return the row of an observation."""
    return {
        "number": number,
        "id": seen.id,
        "stage": seen.stage.value,
        "subject_kind": seen.subject.kind,
        "subject_id": seen.subject.id,
        "aspect": seen.aspect,
        "value": seen.value,
        "seen_at": seen.seen_at,
        "seen_by": seen.seen_by,
        "corrects": seen.corrects,
    }


def observation(row: Row[Any]) -> Observation:
    """Return the observation that a row holds."""
    return Observation(
        id=row.id,
        stage=Stage(row.stage),
        subject=Subject(row.subject_kind, row.subject_id),
        aspect=row.aspect,
        value=row.value,
        seen_at=row.seen_at,
        seen_by=row.seen_by,
        corrects=row.corrects,
    )


def waiver(row: Row[Any]) -> Waiver:
    """Return the waiver that a row holds, joined to its ending where it has one."""
    until = row.until if row.ended_on is None else min(row.until, row.ended_on - timedelta(days=1))
    return Waiver(
        id=row.id,
        rule=row.rule,
        subjects=tuple(Subject(subject["kind"], subject["id"]) for subject in row.subjects),
        reason=row.reason,
        by=row.given_by,
        on=row.given_on,
        until=until,
    )


def waiver_values(waiver: Waiver, number: int) -> Values:
    """Return the row of a waiver."""
    return {
        "number": number,
        "id": waiver.id,
        "rule": waiver.rule,
        "subjects": [{"kind": subject.kind, "id": subject.id} for subject in waiver.subjects],
        "reason": waiver.reason,
        "given_by": waiver.by,
        "given_on": waiver.on,
        "until": waiver.until,
    }


def waiver_end(row: Row[Any]) -> WaiverEnd:
    """Return the ending of a waiver that a row holds."""
    return WaiverEnd(waiver=row.waiver, by=row.ended_by, on=row.ended_on)


def column_map_values(made: ColumnMap, number: int) -> Values:
    """Return the row of a column map."""
    return {
        "number": number,
        "name": made.name,
        "columns": [{"target": target, "heading": heading} for target, heading in made.columns],
        "made_by": made.by,
        "made_at": made.at,
    }


def column_map(row: Row[Any]) -> ColumnMap:
    """Return the column map that a row holds."""
    return ColumnMap(
        name=row.name,
        columns=tuple((column["target"], column["heading"]) for column in row.columns),
        by=row.made_by,
        at=row.made_at,
    )


def sign_off_values(given: SignOff, number: int) -> Values:
    """Return the row of a sign-off."""
    return {
        "number": number,
        "id": given.id,
        "statement": given.statement.value,
        "subject_kind": given.subject.kind,
        "subject_id": given.subject.id,
        "name": given.name,
        "role": given.role,
        "given_on": given.on,
        "until": given.until,
        "recorded_by": given.recorded_by,
    }


def sign_off(row: Row[Any]) -> SignOff:
    """Return the sign-off that a row holds."""
    return SignOff(
        id=row.id,
        statement=Statement(row.statement),
        subject=Subject(row.subject_kind, row.subject_id),
        name=row.name,
        role=row.role,
        on=row.given_on,
        until=row.until,
        recorded_by=row.recorded_by,
    )


def artefact_values(made: Artefact, number: int) -> Values:
    """Return the row of an artefact."""
    return {
        "number": number,
        "revision": made.revision,
        "name": made.name,
        "media_type": made.media_type,
        "bytes_count": made.bytes_count,
        "sha256": made.sha256,
        "made_at": made.made_at,
    }


def artefact(row: Row[Any]) -> Artefact:
    """Return the artefact that a row holds."""
    return Artefact(
        revision=row.revision,
        name=row.name,
        media_type=row.media_type,
        bytes_count=row.bytes_count,
        sha256=row.sha256,
        made_at=row.made_at,
    )


def work_values(one: WorkRecord, number: int) -> Values:
    """Return the row of a record of work; a photograph is named by its attachment."""
    is_photograph = one.deed is Deed.PHOTOGRAPH
    return {
        "number": number,
        "id": one.id,
        "task": one.task,
        "deed": one.deed.value,
        "value": "" if is_photograph else one.value,
        "quantity": one.quantity.value if one.quantity else None,
        "attachment": one.value if is_photograph else None,
        "done_at": one.done_at,
        "received_at": one.received_at,
        "done_by": one.by,
        "corrects": one.corrects,
    }


def work(row: Row[Any]) -> WorkRecord:
    """Return the record of work that a row holds."""
    return WorkRecord(
        id=row.id,
        task=row.task,
        deed=Deed(row.deed),
        value=row.attachment or row.value,
        quantity=Quantity(row.quantity) if row.quantity is not None else None,
        done_at=row.done_at,
        received_at=row.received_at,
        by=row.done_by,
        corrects=row.corrects,
    )


def trace_values(noted: Trace, number: int) -> Values:
    """Return the row of a line of the trail."""
    return {"number": number, "at": noted.at, "done_by": noted.by, "act": noted.act.value, "about": noted.about}


def trace(row: Row[Any]) -> Trace:
    """Return the line of the trail that a row holds."""
    return Trace(at=row.at, by=row.done_by, act=Act(row.act), about=row.about)
