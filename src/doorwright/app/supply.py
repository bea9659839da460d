"""What the rules wait for: which fact, of which parts, where it is entered; and the entering of it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields, replace
from enum import StrEnum
from typing import Any, Final

from doorwright.app.edit_table import Batch, CellEdit, edit_table
from doorwright.app.means import Means
from doorwright.app.show_table import TABLES, TableColumn, Tabled, TableKind, columns_of
from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.verdict import Missing, NotChecked, Subject
from doorwright.model.change import SITE_KIND
from doorwright.model.door import Door
from doorwright.model.label import natural_key
from doorwright.model.naming import name_of, name_of_subject, where_is
from doorwright.model.part import Part
from doorwright.model.profile import Profile
from doorwright.model.site import PART_BY_KIND
from doorwright.model.walk import Walk
from doorwright.rules.judge import Assessment
from doorwright.store.workbook.columns import SHEET_BY_KIND
from doorwright.store.workbook.layout import field_of

_PROFILE_KINDS: Final = {"profile", "secret policy"}
_VAULT_KIND: Final = "vault"
_OTHERWISE_CALLED: Final = {
    (Door.KIND, "lock operating current"): "lock_operate_a",
    (Door.KIND, "lock minimum voltage"): "lock_minimum_v",
    (Door.KIND, "lock rated voltage"): "lock_rated_v",
}
"""Fields that rules call otherwise than their columns are headed."""
_ISSUED: Final = frozenset({"registrar", "position", "address", "subnet", "call_number", "near_port"})
"""Fields that planning issues."""


class Way(StrEnum):
    """How a missing fact is supplied."""

    CELLS = "in cells of a table"
    SITE = "in the form of the site"
    PROFILE = "in the data sheet of a unit type"
    VAULT = "with the passphrase of the vault"
    TABLE = "in a table"


@dataclass(frozen=True, slots=True, kw_only=True)
class Blank:
    """A part whose cell is blank."""

    id: str
    name: str
    where: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A fact that rules wait for: how often, which rules, for which parts, and how it is supplied.

    Where it is supplied in cells, ``column`` says how they are read, and ``blanks`` which parts lack it. ``types`` are
    the keys of the unit types concerned, where it is a fact of those. ``planned`` says that planning issues it.
    """

    missing: Missing
    way: Way
    waiting_count: int
    rules: tuple[str, ...]
    parts: tuple[str, ...]
    table: str = ""
    column: TableColumn | None = None
    blanks: tuple[Blank, ...] = ()
    types: tuple[str, ...] = ()
    planned: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Supplied:
    """What came of it: the revision that stands, how many cells were filled, and what was not as it seemed."""

    revision: int
    filled_count: int
    remarks: tuple[str, ...]


def gaps(walk: Walk, assessment: Assessment, profiles: Mapping[str, Profile]) -> tuple[Gap, ...]:
    """Return what could not be checked, by the fact that is missing, the most wanted first."""
    return tuple(_gap(walk, missing, verdicts, profiles) for missing, verdicts in assessment.by_missing().items())


def supply(tabled: Tabled, gap: Gap, texts: Mapping[str, str], means: Means) -> Supplied:
    """Enter what was missing, one text by identifier of a part, read as a cell of the workbook is; save a revision.

    Raises:
        Refused: it is not entered in cells, no text is given, or a text cannot be read: every mistake is told.
    """
    if gap.column is None:
        raise Refused(f"the {gap.missing} is not entered here", remedy=f"It is supplied {gap.way}.")
    known = {blank.id for blank in gap.blanks}
    edits = tuple(
        CellEdit(id=ident, field=gap.column.field, was="", to=text)
        for ident, text in texts.items()
        if text and ident in known
    )
    if not edits:
        raise Refused("no field was filled in", remedy="Fill in at least one, then save.")
    batch = Batch(revision=tabled.book.head().number, edits=edits)
    edited = edit_table(tabled, TABLES[gap.table], batch, means)
    if edited.mistakes:
        raise Refused(
            "nothing was saved: what was filled in cannot be read",
            remedy="Go back, correct what is listed here, and save again.",
            mistakes=tuple(
                Mistake(where=one.where, read=one.read, problem=one.problem, remedy=one.remedy)
                for one in edited.mistakes
            ),
        )
    theirs = tuple(f"{one.where} was filled in meanwhile: {one.theirs}" for one in edited.conflicts)
    return Supplied(revision=edited.revision, filled_count=len(edits) - len(theirs), remarks=(*theirs, *edited.remarks))


def _gap(walk: Walk, missing: Missing, verdicts: Iterable[NotChecked], profiles: Mapping[str, Profile]) -> Gap:
    verdicts = tuple(verdicts)
    subjects = tuple(dict.fromkeys(subject for verdict in verdicts for subject in verdict.subjects))
    gap = Gap(
        missing=missing,
        way=Way.TABLE,
        waiting_count=len(verdicts),
        rules=tuple(dict.fromkeys(verdict.rule for verdict in verdicts)),
        parts=tuple(sorted({name_of_subject(walk, subject) for subject in subjects}, key=natural_key)),
    )
    kind = PART_BY_KIND.get(missing.kind)
    if missing.kind == _VAULT_KIND:
        return replace(gap, way=Way.VAULT)
    if missing.kind == SITE_KIND:
        return replace(gap, way=Way.SITE)
    if missing.kind in _PROFILE_KINDS or missing.field.endswith("in its profile") or kind is None:
        return replace(gap, way=Way.PROFILE, types=_types(walk, subjects))
    sheet = SHEET_BY_KIND.get(kind)
    if sheet is None:
        return gap
    table = next(one for one in TABLES.values() if one.sheets == (sheet,))
    found = field_of(sheet, missing.field)
    name = _OTHERWISE_CALLED.get((missing.kind, missing.field)) or (found[0] if found is not None else "")
    column = _column(table, name, profiles)
    if column is None:
        return replace(gap, table=table.slug)
    return replace(
        gap,
        way=Way.CELLS,
        table=table.slug,
        column=column,
        blanks=_blanks(walk, kind, sheet.column(name).fields[0], subjects),
        planned=name in _ISSUED,
    )


def _column(table: TableKind, name: str, profiles: Mapping[str, Profile]) -> TableColumn | None:
    by_kind: dict[str, tuple[str, ...]] = {}
    for key, profile in profiles.items():
        by_kind[profile.kind.value] = (*by_kind.get(profile.kind.value, ()), key)
    return next((one for one in columns_of(table, (), by_kind) if one.field == name), None)


def _blanks(walk: Walk, kind: type[Part], name: str, subjects: tuple[Subject, ...]) -> tuple[Blank, ...]:
    """Return the parts that lack a field: the subjects themselves, or parts that these have to do with, or else all."""
    lacking = {part.id: part for part in walk.site.table(kind) if getattr(part, name) in {None, ""}}
    asked = {subject.id for subject in subjects}
    near = {ident: part for ident, part in lacking.items() if ident in asked}
    others = {subject.id for subject in subjects if subject.kind != kind.KIND}
    if others:
        pointed_at = {text for ident in others if (part := walk.part(ident)) is not None for text in _texts(part)}
        near |= {
            ident: part for ident, part in lacking.items() if ident in pointed_at or not others.isdisjoint(_texts(part))
        }
    chosen = (near or lacking).values()
    blanks = (Blank(id=part.id, name=name_of(walk, part), where=where_is(walk, part)) for part in chosen)
    return tuple(sorted(blanks, key=lambda blank: (natural_key(blank.name), natural_key(blank.where))))


def _texts(part: Part) -> set[str]:
    """Return what may be an identifier among the fields of a part."""
    values: Iterable[Any] = (getattr(part, one.name) for one in fields(part) if one.name != "id")
    return {value for value in values if isinstance(value, str)}


def _types(walk: Walk, subjects: Iterable[Subject]) -> tuple[str, ...]:
    """Return the unit types of parts, and of those at the ends of a cable."""
    found: dict[str, None] = {}
    for subject in subjects:
        part = walk.part(subject.id)
        ends = () if part is None else (part, *(walk.part(text) for text in _texts(part)))
        found.update({key: None for end in ends if isinstance(key := getattr(end, "profile", None), str)})
    return tuple(sorted(found, key=natural_key))
