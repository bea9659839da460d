"""Diverts and timetables in the language of the SIP server's program: which call is sent on, why, when and where to."""

from collections.abc import Iterator, Mapping
from typing import Final

from doorwright.model.calling import Divert, DivertCause, Timetable
from doorwright.model.network import SipServer
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.sip_user import call_number_of
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.paths.follow import rank
from doorwright.paths.week import spans_of
from doorwright.plan.hours import holders_of_divert
from doorwright.render.services.accounts import Account
from doorwright.render.services.spelling import note, notes

_ROUTES: Final = {
    DivertCause.ALWAYS: "ALWAYS",
    DivertCause.NO_ANSWER: "NO_ANSWER",
    DivertCause.BUSY: "BUSY",
    DivertCause.NOT_REGISTERED: "NOT_REGISTERED",
}


def divert_routes(
    walk: Walk, server: SipServer, accounts: Mapping[str, Account], entrances: Mapping[str, int]
) -> tuple[str, tuple[str, ...]]:
    """Return one route for each cause, one for each timetable that they ask, and remarks on what cannot be said.

    Args:
        walk: the way around the site.
        server: whose diverts.
        accounts: the server's, by user.
        entrances: the number of each entrance in the server's tables, by identifier.
    """
    held = sorted((one for one in walk.all(Divert) if server.id in holders_of_divert(walk, one)), key=rank)
    hours: dict[str, int] = {}
    remarks: list[str] = []
    lines: dict[DivertCause, list[str]] = {cause: [] for cause in _ROUTES}
    for divert in held:
        said = _Said(walk, divert)
        fault = said.fault(accounts, entrances)
        if fault:
            remarks.append(f"Not sent on by {note(server.name)}: {said.words}: {fault}")
        else:
            lines[divert.cause] += [notes([said.words], "    #"), said.line(entrances, hours)]
    routes = [_route(f"SENT_ON_{name}", lines[cause]) for cause, name in _ROUTES.items()]
    routes += [_hours_route(walk.get(Timetable, ident), number) for ident, number in hours.items()]
    return "\n".join(routes), tuple(remarks)


class _Said:
    """One divert: in words, and as a line of a route."""

    def __init__(self, walk: Walk, divert: Divert) -> None:
        self._walk = walk
        self._divert = divert
        self._called = self._number(divert.dwelling, divert.desk)
        self._to = self._number(divert.to_dwelling, divert.to_desk)
        self._for_all = divert.dwelling is None and divert.desk is None

    def _number(self, dwelling: str | None, desk: str | None) -> str | None:
        home, unit = self._walk.find(Dwelling, dwelling), self._walk.find(Unit, desk)
        if unit is not None:
            return call_number_of(self._walk, unit)
        return home.call_number if home is not None else None

    @property
    def words(self) -> str:
        """The divert as a person would tell it."""
        entrance = self._walk.find(Entrance, self._divert.entrance)
        kept = self._walk.find(Timetable, self._divert.timetable)
        told = "calls to every dwelling" if self._for_all else f"calls to {note(self._called or 'no number')}"
        told += f" from {note(entrance.name)}" if entrance else ""
        told += f", inside {note(kept.name)}" if kept else ""
        return f"{self._divert.cause}: {told}: to {note(self._to or 'no number')}"

    def fault(self, accounts: Mapping[str, Account], entrances: Mapping[str, int]) -> str:
        """Return why the divert cannot be said to the server, or nothing."""
        reasons = (
            (not self._for_all and self._called not in accounts, "what is called does not register here"),
            (self._to not in accounts, "what it leads to does not register here"),
            (
                self._divert.entrance is not None and self._divert.entrance not in entrances,
                "no unit of the entrance registers here",
            ),
            (
                self._divert.timetable is not None and self._walk.find(Timetable, self._divert.timetable) is None,
                "its timetable is gone",
            ),
        )
        return next((reason for holds, reason in reasons if holds), "")

    def line(self, entrances: Mapping[str, int], hours: dict[str, int]) -> str:
        """Return the condition and what follows; a timetable met for the first time gets the next number."""
        conditions = [f'$avp(called) == "{self._called}"']
        if self._for_all:
            # a divert for all dwellings is for no desk, and passes over the dwelling that it leads to
            conditions = ["$sht(dwelling=>$avp(called)) == 1"]
            conditions += [f'$avp(called) != "{self._to}"'] if self._divert.to_desk is None else []
        if self._divert.entrance is not None:
            conditions.append(f"$avp(entrance) == {entrances[self._divert.entrance]}")
        taken = f'$var(to) = "{self._to}"; return;'
        if self._divert.timetable is not None:
            number = hours.setdefault(self._divert.timetable, len(hours) + 1)
            taken = f"route(INSIDE_{number}); if ($var(inside) == 1) {{ {taken} }}"
        return f"    if ({' && '.join(conditions)}) {{ {taken} }}"


def _hours_route(timetable: Timetable, number: int) -> str:
    return _route(f"INSIDE_{number}", _hours(timetable))


def _hours(timetable: Timetable) -> Iterator[str]:
    yield notes([timetable.name], "    #")
    yield "    $var(inside) = 0;"
    yield "    route(NOW);"
    for start_min, end_min in spans_of(timetable):
        yield f"    if ($var(minute) >= {start_min} && $var(minute) < {end_min}) {{ $var(inside) = 1; }}"


def _route(name: str, lines: "list[str] | Iterator[str]") -> str:
    return "\n".join([f"route[{name}] {{", *lines, "    return;", "}", ""])
