"""Calls: pick an entrance, a dwelling or desk and a time; see who rings, and who may free which door."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from doorwright.app.prove_paths import Proved, prove_paths
from doorwright.app.tell_paths import answers_of, as_rows
from doorwright.kernel.errors import Refused
from doorwright.kernel.words import counted
from doorwright.model.label import natural_key
from doorwright.model.place import Core, Dwelling, Entrance
from doorwright.model.unit import UnitKind
from doorwright.model.walk import Walk
from doorwright.paths.proof import DeskCalls, Group
from doorwright.paths.telling import labels_of, named_desk
from doorwright.web.answers import Answer, Page
from doorwright.web.asking import Ask, get
from doorwright.web.remedies import on_page
from doorwright.web.strips import Strip, strip

OFFERS_MOST: Final = 1500
_NAMED_MOST: Final = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the form asks about, as typed, and what may be typed."""

    entrance: str
    to: str
    at: str
    on: str
    entrances: tuple[str, ...]
    dwellings: tuple[str, ...]
    desks: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CallsStrip:
    """The calls from an entrance to one group of dwellings, or one desk."""

    who: str
    strip: Strip


@dataclass(frozen=True, slots=True, kw_only=True)
class EntranceStrips:
    """All calls from an entrance."""

    entrance: str
    calls: tuple[CallsStrip, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CallsView:
    """What was asked, what the proof says of it, and the weeks as strips; ``problem`` where it cannot be asked so."""

    asked: Asked
    proof: dict[str, Any] | None
    strips: tuple[EntranceStrips, ...]
    problem: str = ""
    remedy: str = ""


def page(ask: Ask) -> Answer:
    """Show who rings when."""
    _, walk = ask.book.now()
    desks = tuple(sorted((desk.name for desk in walk.units_of_kind(UnitKind.SMU)), key=natural_key))
    to = ask.text("to")
    is_desk = to.casefold() in {desk.casefold() for desk in desks}
    asked = Asked(
        entrance=ask.text("entrance"),
        to=to,
        at=ask.text("at"),
        on=ask.text("on"),
        entrances=tuple(sorted((one.name for one in walk.all(Entrance)), key=natural_key)),
        dwellings=_dwellings(walk),
        desks=desks,
    )
    try:
        proved = prove_paths(
            ask.book.path,
            entrance=asked.entrance or None,
            dwelling=to if to and not is_desk else None,
            desk=to if is_desk else None,
            at=asked.at or None,
            on=asked.on or None,
        )
        rows = as_rows(proved, answers_of(proved))
    except Refused as refused:
        view = CallsView(asked=asked, proof=None, strips=(), problem=refused.message, remedy=on_page(refused.remedy))
        return Page(template="calls/calls.html", title="Calls", view=view, status=422)
    weeks = () if proved.when is not None or proved.on is not None else tuple(_strips(proved))
    return Page(template="calls/calls.html", title="Calls", view=CallsView(asked=asked, proof=rows, strips=weeks))


def _dwellings(walk: Walk) -> tuple[str, ...]:
    if len(walk.all(Dwelling)) > OFFERS_MOST:
        return ()

    def name(dwelling: Dwelling) -> str:
        core = walk.find(Core, dwelling.core)
        alike = len(walk.dwellings_labelled(dwelling.door_label)) > 1
        return f"{core.name}/{dwelling.door_label}" if alike and core is not None else dwelling.door_label

    return tuple(sorted(map(name, walk.all(Dwelling)), key=natural_key))


def _strips(proved: Proved) -> Iterator[EntranceStrips]:
    for entrance in proved.entrances:
        calls: tuple[Group | DeskCalls, ...] = (*proved.groups(entrance), *proved.desks(entrance))
        yield EntranceStrips(
            entrance=entrance.name,
            calls=tuple(CallsStrip(who=_who(proved, one), strip=strip(proved.walk, one)) for one in calls),
        )


def _who(proved: Proved, calls: Group | DeskCalls) -> str:
    if isinstance(calls, DeskCalls):
        return f"desk {named_desk(proved.walk, calls.desk)}"
    if isinstance(proved.called, Dwelling):
        return f"dwelling {proved.called.door_label}"
    count = counted(calls.dwellings_count, "dwelling")
    return f"{count}: {labels_of(proved.walk, calls.dwellings, at_most_count=_NAMED_MOST)}"


ROUTES: Final = (*get("/books/{book}/calls", page),)
