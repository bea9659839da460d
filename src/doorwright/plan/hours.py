"""What calls do, as it is entered: clocks and timetables, how dwellings ring, diverts, and where each is entered.

The model says what calls do and when (``paths/follow.py``); it does not say in which box that is entered. These are
the places that the trade uses (common practice):

* the time zone in every unit, for each has a clock; the holidays in what keeps a timetable;
* a timetable in the VCUs of its entrance, and in whatever has a divert or a release right that names it;
* a divert in what routes the call: what the calling VCU registers with, or that VCU if it is the first of its group;
* how a dwelling rings in the SIP server at which its receivers register, else in its primary receiver, which rings
  the others; a desk rings by its own.
"""

from collections.abc import Iterator, Mapping
from itertools import groupby
from typing import Final

from doorwright.model.calling import DAYS, HOLIDAY, Divert, RingMode, Timetable, Window
from doorwright.model.door import Door
from doorwright.model.network import SipServer
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.sip_user import call_number_of
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.piece import Holder, Piece, PieceKind

ZONE: Final = "time zone"
HOLIDAYS: Final = "holidays"
NEVER: Final = "none: never"
"""How the windows of a timetable without any are told."""


# where it is entered


def routers_of(walk: Walk, entrance: str) -> Iterator[str]:
    """Yield what routes the calls from an entrance: what its VCUs register with, or they themselves."""
    for unit in walk.units_at(entrance):
        if unit.kind is UnitKind.VCU:
            registrar = walk.find(Unit, unit.registrar) or walk.find(SipServer, unit.registrar)
            yield registrar.id if registrar is not None else unit.id


def holders_of_divert(walk: Walk, divert: Divert) -> tuple[str, ...]:
    """Return the units and servers in which a divert is entered, each once."""
    dwelling = walk.find(Dwelling, divert.dwelling)
    if divert.dwelling is not None and dwelling is None:
        return ()
    if divert.entrance is not None:
        entrances = [divert.entrance]
    else:
        # a dwelling that no entrance serves may still be reached by another divert, from wherever that holds
        serving = walk.entrances_serving(dwelling) if dwelling is not None else ()
        entrances = [entrance.id for entrance in serving or walk.all(Entrance)]
    return tuple(dict.fromkeys(router for entrance in entrances for router in routers_of(walk, entrance)))


def holders_of_ringing(walk: Walk, dwelling: str) -> Iterator[str]:
    """Yield the servers and receivers in which it is entered how a dwelling rings."""
    units = walk.units_in(dwelling)
    own = {unit.id for unit in units}
    for server in dict.fromkeys(unit.registrar for unit in units):
        if server is not None and walk.find(SipServer, server) is not None:
            yield server
    for unit in units:
        at_server = walk.find(SipServer, unit.registrar) is not None
        rings_others = any(other.registrar == unit.id for other in units)
        if rings_others or not (at_server or unit.registrar in own):
            yield unit.id


def keeps(walk: Walk, holder: Holder, timetable: str) -> bool:
    """Say whether a unit or server keeps a timetable."""
    kept = walk.find(Timetable, timetable)
    if kept is None:
        return False
    if isinstance(holder, Unit) and holder.kind is UnitKind.VCU and holder.entrance == kept.entrance:
        return True
    for user in walk.users_of_hours(timetable):
        if isinstance(user, Divert):
            if holder.id in holders_of_divert(walk, user):
                return True
        elif (door := walk.find(Door, user.door)) is not None and door.freed_by == holder.id:
            return True
    return False


def timetables_in(walk: Walk, holder: Holder) -> Iterator[str]:
    """Yield the timetables that a unit or server keeps."""
    may_keep = _may_route(holder) or (isinstance(holder, Unit) and walk.doors_freed_by(holder.id))
    if may_keep:
        yield from (timetable.id for timetable in walk.all(Timetable) if keeps(walk, holder, timetable.id))


def _diverts_in(walk: Walk, holder: Holder) -> Iterator[Divert]:
    if _may_route(holder):
        yield from (divert for divert in walk.all(Divert) if holder.id in holders_of_divert(walk, divert))


def _may_route(holder: Holder) -> bool:
    return isinstance(holder, SipServer) or (isinstance(holder, Unit) and holder.kind is UnitKind.VCU)


# the pieces


def pieces_in_hours(walk: Walk, holder: Holder) -> Iterator[Piece]:
    """Yield the pieces of a unit or server about clocks, timetables, ringing and diverts."""
    if not isinstance(holder, Unit | SipServer):
        return
    yield Piece(holder.id, PieceKind.CLOCK)
    for timetable in timetables_in(walk, holder):
        yield Piece(holder.id, PieceKind.TIMETABLE, timetable)
    yield from (Piece(holder.id, PieceKind.RINGING, ident) for ident in _rung_by(walk, holder))
    yield from (Piece(holder.id, PieceKind.DIVERT, divert.id) for divert in _diverts_in(walk, holder))


def _rung_by(walk: Walk, holder: Unit | SipServer) -> Iterator[str]:
    """Yield the dwellings whose ringing may be entered in a holder; of a desk, itself."""
    match holder:
        case Unit(kind=UnitKind.SMU):
            yield holder.id
        case Unit(dwelling=str() as dwelling):
            yield dwelling
        case SipServer():
            yield from dict.fromkeys(u.dwelling for u in walk.units_registered_with(holder.id) if u.dwelling)


# what is entered


def clock(walk: Walk, holder: Unit | SipServer, _about: str) -> Mapping[str, str]:
    """Return the time zone, and the holidays where a timetable is kept."""
    site = walk.settings()
    keeps_one = next(timetables_in(walk, holder), None) is not None
    entered: dict[str, str] = {}
    if site.time_zone is not None and (keeps_one or isinstance(holder, Unit)):
        entered[f"{PieceKind.CLOCK}: {ZONE}"] = site.time_zone
    if site.holidays and keeps_one:
        entered[f"{PieceKind.CLOCK}: {HOLIDAYS}"] = ", ".join(day.isoformat() for day in sorted(set(site.holidays)))
    return entered


def timetable(walk: Walk, holder: Unit | SipServer, ident: str) -> Mapping[str, str]:
    """Return a timetable where it is kept: its name, its windows, and what it is for at its own entrance."""
    kept = walk.find(Timetable, ident)
    if kept is None or not keeps(walk, holder, ident):
        return {}
    windows = "; ".join(map(window_text, sorted(kept.windows, key=_by_time))) or NEVER
    entered = {"name": kept.name, "windows": windows}
    if kept.closed_on_holidays:
        entered["on holidays"] = "closed"
    if isinstance(holder, Unit) and holder.kind is UnitKind.VCU and holder.entrance == kept.entrance:
        entered["for what"] = kept.purpose.value
        desk = walk.find(Unit, kept.divert_to)
        number = call_number_of(walk, desk) if desk is not None else None
        if number is not None:
            entered["calls go to"] = number
    return {f"{PieceKind.TIMETABLE} {ident}: {name}": value for name, value in entered.items()}


def window_text(window: Window) -> str:
    """Return a window in words, three and more days that follow one another as "Mon-Fri"."""
    days = sorted(set(window.days))
    said: list[str] = []
    # the holiday follows no day of the week
    for _, run in groupby(enumerate(days), key=lambda pair: (pair[1] == HOLIDAY, pair[1] - pair[0])):
        names = [DAYS[day] for _, day in run]
        said += [f"{names[0]}-{names[-1]}"] if len(names) > 2 else names
    _, _, times = str(window).partition(" ")
    return f"{'+'.join(said)} {times}"


def _by_time(window: Window) -> tuple[tuple[int, ...], int, int]:
    return tuple(sorted(window.days)), window.start_min, window.end_min


def ringing(walk: Walk, holder: Unit | SipServer, ident: str) -> Mapping[str, str]:
    """Return how a dwelling rings where that is entered, or a desk."""
    choices = walk.settings().choices
    if isinstance(holder, Unit) and holder.kind is UnitKind.SMU:
        return {f"{PieceKind.RINGING} {ident}": f"{choices.ring_s} s"} if ident == holder.id else {}
    dwelling = walk.find(Dwelling, ident)
    if dwelling is None or holder.id not in set(holders_of_ringing(walk, ident)):
        return {}
    rung_count = sum(1 for unit in walk.units_in(ident) if holder.id in (unit.registrar, unit.id))
    ring_s = choices.ring_s if dwelling.ring_s is None else dwelling.ring_s
    value = f"{ring_s} s"
    if rung_count > 1:
        mode = dwelling.ring_mode or choices.ring_mode
        value = f"{mode.value}, {value}" + (" each" if mode is RingMode.IN_TURN else "")
    if isinstance(holder, SipServer):
        if dwelling.call_number is None:
            return {}
        value = f"{dwelling.call_number}: {value}"
    return {f"{PieceKind.RINGING} {ident}": value}


def divert(walk: Walk, holder: Unit | SipServer, ident: str) -> Mapping[str, str]:
    """Return a divert where calls are routed: its cause, whose calls, from where, when, and where they go."""
    entered = walk.find(Divert, ident)
    if entered is None or holder.id not in holders_of_divert(walk, entered):
        return {}
    called, number = (
        _number(walk, *of) for of in ((entered.dwelling, entered.desk), (entered.to_dwelling, entered.to_desk))
    )
    for_all = entered.dwelling is None and entered.desk is None
    if number is None or (called is None and not for_all):
        return {}
    whose = "calls to every dwelling" if for_all else f"calls to {called}"
    if entered.entrance is not None:
        callers = sorted(u.name for u in walk.units_at(entered.entrance) if u.kind is UnitKind.VCU)
        whose += f" from {', '.join(callers)}"
    kept = walk.find(Timetable, entered.timetable)
    when = f", inside {kept.name}" if kept is not None else ""
    return {f"{PieceKind.DIVERT} {ident}": f"{entered.cause.value}, {whose}{when}: to {number}"}


def _number(walk: Walk, dwelling: str | None, desk: str | None) -> str | None:
    """Return the number of a dwelling, or where none is named of a desk."""
    if dwelling is not None:
        home = walk.find(Dwelling, dwelling)
        return home.call_number if home is not None else None
    unit = walk.find(Unit, desk)
    return call_number_of(walk, unit) if unit is not None else None
