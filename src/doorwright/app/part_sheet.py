"""The sheet of one part: all that a book knows of it, in the words of the workbook."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from doorwright.app.by_part import ByPart
from doorwright.app.calculate import Question, questions
from doorwright.kernel.observation import Observation, Stage, what_counts
from doorwright.kernel.verdict import Severity
from doorwright.model.aspect import with_unit
from doorwright.model.calling import Divert, Timetable
from doorwright.model.door import Door
from doorwright.model.label import natural_key
from doorwright.model.naming import name_of, name_of_subject, named, where_is
from doorwright.model.network import CableRun, Junction, SipServer, Subnet, Switch
from doorwright.model.part import Part
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level, Place
from doorwright.model.power import Supply
from doorwright.model.unit import Key, KeyModule, Unit
from doorwright.model.walk import Walk
from doorwright.plan.pairing import Entry, pairing_of
from doorwright.plan.piece import Holder, PieceKind
from doorwright.plan.settings import pieces_of, settings_in
from doorwright.plan.settings import shown as setting_shown
from doorwright.rules.catalogue import RULE_BY_ID
from doorwright.store.workbook.columns import SHEET_BY_KIND, Column
from doorwright.studies.annex import studies_of

LINKS_SHOWN_COUNT: Final = 24
SETTINGS_SHOWN_COUNT: Final = 400


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """A part that one can go to."""

    id: str
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Fact:
    """One column's fact: a text, or the parts that it names."""

    heading: str
    text: str
    links: tuple[Link, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Related:
    """Other parts that have to do with this one, in the order of their names; ``more_count`` of them are left out."""

    title: str
    links: tuple[Link, ...]
    more_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Entered:
    """What is entered at one end: under a heading, name by name. A secret stands as its line on the sealed sheet."""

    heading: str
    at: Link | None
    entries: tuple[Entry, ...]
    more_count: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class FindingLine:
    """A finding on the part, why it matters, what to do, and the other parts it is about; its waiver where it has one.

    ``about`` is the part that it is on, where that is another one which belongs to this.
    """

    rule: str
    title: str
    severity: Severity
    message: str
    why: str
    remedy: str
    about: tuple[Link, ...]
    waived: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Lacking:
    """A fact that rules wait for, and the titles of those rules."""

    missing: str
    rules: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """Something found in the building."""

    aspect: str
    value: str
    seen_at: str
    seen_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PartSheet:
    """Everything known of a part.

    ``ends`` are both ends of its pairing, ``entered`` what is entered at it besides. ``judged`` is no while the rules
    are still looking.
    """

    id: str
    kind: str
    name: str
    title: str
    where: str
    facts: tuple[Fact, ...]
    not_given: tuple[str, ...]
    related: tuple[Related, ...]
    ends: tuple[Entered, ...]
    entered: tuple[Entered, ...]
    judged: bool
    findings: tuple[FindingLine, ...]
    not_checked: tuple[Lacking, ...]
    calculated: tuple[Question, ...]
    seen: tuple[Seen, ...]


def sheet_of(walk: Walk, part: Part, said: ByPart | None, observations: Iterable[Observation]) -> PartSheet:
    """Return the sheet of a part; ``said`` is what the rules say, None while they are still looking."""
    facts, not_given = _facts(walk, part)
    return PartSheet(
        id=part.id,
        kind=part.kind.value if isinstance(part, Unit) else part.KIND,
        name=name_of(walk, part),
        title=named(walk, part).partition(" (")[0] if where_is(walk, part) else named(walk, part),
        where=where_is(walk, part),
        facts=facts,
        not_given=not_given,
        related=tuple(_related(walk, part)),
        ends=tuple(_ends(walk, part)) if isinstance(part, Unit) else (),
        entered=tuple(_entered(walk, part)) if isinstance(part, Unit | Switch | SipServer) else (),
        judged=said is not None,
        findings=tuple(_findings(walk, part, said)) if said is not None else (),
        not_checked=tuple(_not_checked(walk, part, said)) if said is not None else (),
        calculated=questions(walk, tuple(studies_of(walk, part))),
        seen=tuple(_seen(part, observations)),
    )


def link(walk: Walk, part: Part) -> Link:
    """Return the way to a part under its name."""
    return Link(id=part.id, name=name_of(walk, part))


# facts


def _facts(walk: Walk, part: Part) -> tuple[tuple[Fact, ...], tuple[str, ...]]:
    given: list[Fact] = []
    not_given: list[str] = []
    sheet = SHEET_BY_KIND.get(type(part))
    for column in sheet.columns if sheet is not None else ():
        if column.helper or column.field == "id":
            continue
        fact = _fact(walk, part, column)
        if fact is None:
            not_given.append(column.heading)
        else:
            given.append(fact)
    given += [Fact(heading=heading or "Note", text=text) for heading, text in part.notes]
    return tuple(given), tuple(not_given)


def _fact(walk: Walk, part: Part, column: Column) -> Fact | None:
    if column.lists:
        idents = [ident for field, _ in column.lists for ident in getattr(part, field)]
        links = tuple(link(walk, found) for ident in idents if (found := walk.part(ident)) is not None)
        more = f"and {len(links) - LINKS_SHOWN_COUNT} more" if len(links) > LINKS_SHOWN_COUNT else ""
        return Fact(heading=column.heading, text=more, links=links[:LINKS_SHOWN_COUNT]) if links else None
    value = getattr(part, column.field)
    if value is None or value == ():
        return None
    referred = walk.part(value) if column.refers else None
    if referred is not None:
        return Fact(heading=column.heading, text="", links=(link(walk, referred),))
    text = _text(walk, column, value)
    return Fact(heading=column.heading, text=text) if text else None


def _text(walk: Walk, column: Column, value: Any) -> str:
    if column.refers:
        return str(value)
    if column.profiles:
        profile = walk.profile(value)
        return f"{value}: {profile.title}" if profile else f"{value} (not known)"
    shown = column.form.show(value)
    return f"{shown:g}" if isinstance(shown, float) else str(shown) if shown is not None else ""


# related parts


def _related(walk: Walk, part: Part) -> Iterator[Related]:
    for title, found in _relatives(walk, part):
        parts = sorted({one.id: one for one in found if one is not None}.values(), key=_by_name(walk))
        if parts:
            yield Related(
                title=title,
                links=tuple(_link_where(walk, one) for one in parts[:LINKS_SHOWN_COUNT]),
                more_count=max(0, len(parts) - LINKS_SHOWN_COUNT),
            )


def _by_name(walk: Walk) -> Callable[[Part], Any]:
    return lambda part: natural_key(name_of(walk, part))


def _link_where(walk: Walk, part: Part) -> Link:
    """Return the way to a part, said so that one tells it from its like: a run by what it feeds, a key by whom."""
    match part:
        case CableRun(near=near, far=far):
            ends = (walk.part(near), walk.part(far))
            named_ends = " → ".join(end.label if end else "?" for end in ends)
            port = f", port {part.near_port}" if part.near_port is not None else ""
            return Link(id=part.id, name=f"{part.name}: {named_ends}{port}")
        case Key(dwelling=dwelling, desk=desk):
            target = walk.part(dwelling or desk)
            return Link(id=part.id, name=f"{part.label}: {target.label if target else 'nobody yet'}")
    return link(walk, part)


_Relatives = Iterator[tuple[str, Iterable[Part | None]]]


def _relatives(walk: Walk, part: Part) -> _Relatives:
    match part:
        case Building():
            yield "Cores", walk.cores_of(part.id)
            yield "Levels", (one for one in walk.all(Level) if one.building == part.id)
            yield "Entrances that serve all of it", walk.entrances_naming(part.id)
        case Core():
            yield "Places in it", (one for one in walk.all(Place) if one.core == part.id)
            yield "Entrances that serve it", walk.entrances_naming(part.id)
            yield "Dwellings", walk.dwellings_of_core(part.id)
        case Level():
            yield "Places on it", (one for one in walk.all(Place) if one.level == part.id)
            yield "Dwellings", walk.dwellings_on(part.id)
        case Place():
            yield "Entrances here", (one for one in walk.all(Entrance) if one.place == part.id)
            yield "Switches here", (one for one in walk.all(Switch) if one.place == part.id)
            yield "Supplies here", (one for one in walk.all(Supply) if one.place == part.id)
            yield "Junctions here", (one for one in walk.all(Junction) if one.place == part.id)
            yield "Units here", (one for one in walk.all(Unit) if one.place == part.id)
        case Dwelling():
            yield "Its receivers", walk.units_in(part.id)
            yield "Visitors call it from", walk.entrances_serving(part)
            yield "Keys that ring it", walk.keys_ringing(part.id)
            yield "Diverts", (*walk.diverts_for(part.id), *walk.diverts_to(part.id))
        case Entrance():
            yield "Its call units", walk.units_at(part.id)
            yield "Its doors", walk.doors_of(part.id)
            yield "Its timetables", walk.timetables_of(part.id)
            yield "Dwellings that it serves", walk.dwellings_served(part)
        case Door():
            yield "Who may free it", walk.rights_to(part.id)
            yield "Fed through", walk.runs_to(part.id)
        case Unit():
            yield from _relatives_of_unit(walk, part)
        case KeyModule():
            yield "Its keys", (key for key in walk.keys_of(part.unit) if key.module == part.ordinal)
        case _:
            yield from _relatives_in_network(walk, part)


def _relatives_of_unit(walk: Walk, unit: Unit) -> _Relatives:
    if unit.dwelling is not None:
        yield "Other receivers of the dwelling", (one for one in walk.units_in(unit.dwelling) if one.id != unit.id)
    yield "Doors that it frees", walk.doors_freed_by(unit.id)
    yield "Its modules", walk.modules_of(unit.id)
    yield "Its keys", walk.keys_of(unit.id)
    yield "Keys that ring it", walk.keys_ringing(unit.id)
    yield "Fed through", walk.runs_to(unit.id)
    yield "Registered with it", walk.units_registered_with(unit.id)
    yield "Diverts to it", walk.diverts_to(unit.id)
    yield "Its secrets, as lines of the sealed sheet", walk.secrets_of(unit.id)


def _relatives_in_network(walk: Walk, part: Part) -> _Relatives:
    match part:
        case Switch() | Supply() | Junction():
            yield "Fed through", walk.runs_to(part.id)
            yield "Cables from it", walk.runs_from(part.id)
            yield "Its secrets, as lines of the sealed sheet", walk.secrets_of(part.id)
        case Subnet():
            yield "Addresses in it", walk.holders_in_subnet(part.id)
        case SipServer():
            yield "Registered with it", walk.units_registered_with(part.id)
            yield "Its secrets, as lines of the sealed sheet", walk.secrets_of(part.id)
        case Timetable():
            yield "Used by", walk.users_of_hours(part.id)
        case Divert():
            yield "For calls from", (walk.find(Entrance, part.entrance),)


# what is entered where


def _ends(walk: Walk, unit: Unit) -> Iterator[Entered]:
    pairing = pairing_of(walk, unit)
    yield Entered(heading="Entered at the unit", at=None, entries=pairing.at_unit)
    if pairing.registrar is not None:
        at = link(walk, pairing.registrar)
        yield Entered(heading="Entered for it at", at=at, entries=pairing.at_registrar)


def _entered(walk: Walk, holder: Holder) -> Iterator[Entered]:
    """Yield the settings of a holder besides its own end of its pairing, by the kind of their pieces."""
    of_kind: dict[PieceKind, list[Entry]] = {}
    for piece in pieces_of(walk, holder):
        if piece.kind is PieceKind.OWN and isinstance(holder, Unit):
            continue
        about = walk.part(piece.about)
        for name, value in settings_in(walk, piece).items():
            words = name.replace(piece.about, name_of(walk, about)) if about is not None else name
            of_kind.setdefault(piece.kind, []).append(Entry(words, setting_shown(value)))
    for kind, entries in of_kind.items():
        entries.sort(key=lambda entry: natural_key(entry.name))
        yield Entered(
            heading=_ENTERED[kind],
            at=None,
            entries=tuple(entries[:SETTINGS_SHOWN_COUNT]),
            more_count=max(0, len(entries) - SETTINGS_SHOWN_COUNT),
        )


_ENTERED: Final[Mapping[PieceKind, str]] = {
    PieceKind.OWN: "Entered at it",
    PieceKind.PAIRING: "Entered at it for what registers with it",
    PieceKind.CLOCK: "Its clock",
    PieceKind.TIMETABLE: "Timetables in it",
    PieceKind.RINGING: "How it has dwellings ring",
    PieceKind.DIVERT: "Diverts in it",
    PieceKind.DOOR: "Doors in it",
    PieceKind.KEY: "Keys in it",
    PieceKind.DIRECTORY: "Its directory",
    PieceKind.PORT: "Its ports",
}


# what is said of it, and what was seen


def _findings(walk: Walk, part: Part, said: ByPart) -> Iterator[FindingLine]:
    for finding, waiver in said.findings.get(part.id, ()):
        rule = RULE_BY_ID[finding.rule]
        others = (walk.part(subject.id) for subject in finding.subjects if subject.id != part.id)
        yield FindingLine(
            rule=rule.id,
            title=rule.title,
            severity=finding.severity,
            message=finding.message,
            why=rule.why,
            remedy=rule.remedy,
            about=tuple(link(walk, other) for other in others if other is not None),
            waived=f"waived until {waiver.until} by {waiver.by}: {waiver.reason}" if waiver is not None else "",
        )


def _not_checked(walk: Walk, part: Part, said: ByPart) -> Iterator[Lacking]:
    rules: dict[str, dict[str, None]] = {}
    for verdict in said.not_checked.get(part.id, ()):
        own = verdict.subjects[0].id == part.id
        whose = "" if own else f" ({name_of_subject(walk, verdict.subjects[0])})"
        for missing in verdict.missing:
            rules.setdefault(f"{missing}{whose}", {})[RULE_BY_ID[verdict.rule].title] = None
    for missing_words, titles in rules.items():
        yield Lacking(missing=missing_words, rules=tuple(titles))


def _seen(part: Part, observations: Iterable[Observation]) -> Iterator[Seen]:
    own = (one for one in observations if one.subject == part.subject)
    for aspect, one in what_counts(own, Stage.FOUND).get(part.subject, {}).items():
        yield Seen(
            aspect=aspect,
            value=with_unit(aspect, one.value),
            seen_at=f"{one.seen_at:%Y-%m-%d %H:%M}",
            seen_by=one.seen_by,
        )
