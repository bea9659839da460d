"""How full can calls make a link of the network?"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from doorwright.calc.streams import link_use
from doorwright.kernel.verdict import Missing
from doorwright.model.calling import RingMode
from doorwright.model.network import CableRun, Switch
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.profile import Profile
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.studies.call_media import CallMedia, call_media
from doorwright.studies.study import Step, Study, Trail
from doorwright.studies.switch_tree import beyond, switch_of, units_on

TITLE: Final = "Streams on the link with as many calls at once as there can be"
PROFILE: Final = "profile"


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkStreams:
    """What a link carries at worst, away from the feeding end (down) and towards it (up).

    ``down_calls_count`` calls come from call units before the link to receivers beyond it, ``up_calls_count`` the other
    way. Each call unit and each dwelling is in one call, and those with the most receivers are called.
    ``most_calls_count`` is how many such calls the link would carry within ``assumed_limit_ratio`` of its rate.
    """

    link_mbps: float
    down_calls_count: int
    up_calls_count: int
    down_kbps: float
    up_kbps: float
    use_ratio: float
    assumed_limit_ratio: float
    most_calls_count: int


@dataclass(frozen=True, slots=True)
class _Called:
    """A dwelling or desk, with those of its receivers that lie beyond the link."""

    id: str
    callers: tuple[str, ...]
    receivers: tuple[Unit, ...]
    in_turn: bool


@dataclass(frozen=True, slots=True)
class _Load:
    """What the calls in one direction take: pictures one way, speech both ways."""

    calls_count: int = 0
    picture_kbps: float = 0.0
    speech_kbps: float = 0.0
    steps: tuple[Step, ...] = ()


def link_streams(walk: Walk, run: CableRun) -> Study[LinkStreams]:
    """Study the worst load of a run between two switches, or between a switch and a unit.

    While a dwelling rings, its receivers all see the picture: each by a copy of its own where pictures are not sent as
    multicast. Speech is counted beside it, as if one had answered already. Where call units send at several rates, the
    highest counts: the load is an upper bound. The question does not arise for a run that is no link of the network.
    """
    near = walk.find(Switch, run.near)
    far = walk.find(Switch, run.far)
    unit = walk.find(Unit, run.far)
    if near is None or (far is None and unit is None) or (unit is not None and switch_of(walk, unit) != near.id):
        return Study(run.subject, TITLE)
    rates = [_port_mbps(walk, near, run.near_port)]
    if far is not None:
        rates.append(_port_mbps(walk, far, run.far_port))
    else:
        own = walk.profile(unit.profile) if unit is not None else None
        if own is not None and own.port_mbps is not None:
            rates.append(float(own.port_mbps))  # the slower end sets the rate
    missing: dict[Missing, None] = {rate: None for rate in rates if isinstance(rate, Missing)}
    loads: tuple[_Load | tuple[Missing, ...], ...]
    if unit is not None:
        loads = _loads_at_unit(walk, unit)
    else:
        before = beyond(walk, run.near, without=run.id)
        if run.far in before:
            return Study(run.subject, TITLE, missing=(*missing, Missing(CableRun.KIND, "one way between the switches")))
        sides = [tuple(units_on(walk, side)) for side in (before, beyond(walk, run.far, without=run.id))]
        loads = (_load(walk, sides[0], sides[1]), _load(walk, sides[1], sides[0]))
    missing |= {fact: None for load in loads if isinstance(load, tuple) for fact in load}
    if missing:
        return Study(run.subject, TITLE, missing=tuple(missing))
    down, up = (load for load in loads if isinstance(load, _Load))
    link_mbps = min(rate for rate in rates if isinstance(rate, float))
    limit_ratio = walk.settings().media.link_use_ratio
    speech_kbps = down.speech_kbps + up.speech_kbps
    trail = Trail()
    calls_count = down.calls_count + up.calls_count
    fuller_kbps = max(down.picture_kbps, up.picture_kbps) + speech_kbps
    use = trail.run(
        link_use,
        down_kbps=down.picture_kbps + speech_kbps,
        up_kbps=up.picture_kbps + speech_kbps,
        link_mbps=link_mbps,
        limit_ratio=limit_ratio,
        call_kbps=fuller_kbps / calls_count if calls_count else 0.0,
    )
    value = LinkStreams(
        link_mbps=link_mbps,
        down_calls_count=down.calls_count,
        up_calls_count=up.calls_count,
        down_kbps=use.down_kbps,
        up_kbps=use.up_kbps,
        use_ratio=use.use_ratio,
        assumed_limit_ratio=limit_ratio,
        most_calls_count=use.calls_most_count,
    )
    return Study(run.subject, TITLE, value, steps=(*down.steps, *up.steps, *trail.steps))


def _port_mbps(walk: Walk, switch: Switch, port: int | None) -> float | Missing:
    """Return the rate of a switch's port; the last of its ports are its uplinks."""
    profile = walk.profile(switch.profile)
    if profile is None:
        return Missing(Switch.KIND, PROFILE)
    uplink_mbps = profile.uplink_mbps if profile.uplink_mbps is not None else profile.port_mbps
    if profile.port_mbps is None:
        return Missing(PROFILE, "port rate")
    if port is None and uplink_mbps != profile.port_mbps:
        return Missing(CableRun.KIND, "port")
    is_uplink = port is not None and port > profile.ports_count - profile.uplinks_count
    rate_mbps = uplink_mbps if is_uplink and uplink_mbps is not None else profile.port_mbps
    return float(rate_mbps)


def _loads_at_unit(walk: Walk, unit: Unit) -> tuple[_Load | tuple[Missing, ...], _Load | tuple[Missing, ...]]:
    """Return what a unit's own link carries to it and from it."""
    if unit.kind is UnitKind.VCU:
        entrance = walk.find(Entrance, unit.entrance)
        homes = walk.dwellings_served(entrance) if entrance is not None else ()
        receivers = [one for home in homes for one in walk.units_in(home.id)]
        return _Load(), _load(walk, (unit,), (*receivers, *walk.units_of_kind(UnitKind.SMU)))
    home = walk.find(Dwelling, unit.dwelling)
    if unit.kind is UnitKind.SMU:
        entrances: Iterable[Entrance] = (entrance for entrance in walk.all(Entrance) if entrance.calls_desk)
    else:
        entrances = walk.entrances_serving(home) if home else ()
    callers = [one for entrance in entrances for one in walk.units_at(entrance.id)]
    return _load(walk, callers, (unit,)), _Load()


def _load(walk: Walk, callers: Iterable[Unit], receivers: Iterable[Unit]) -> _Load | tuple[Missing, ...]:
    """Return the worst load of calls from call units on one side of a link to receivers on the other."""
    units = {unit.id: unit for unit in callers if unit.kind is UnitKind.VCU}
    media = walk.settings().media
    speech_kbps = picture_kbps = 0.0
    steps: tuple[Step, ...] = ()
    missing: dict[Missing, None] = {}
    called = list(_called(walk, units, receivers))
    for caller, receiver in _types(walk, units, called):
        if caller is None or receiver is None:
            missing[Missing(Unit.KIND, PROFILE)] = None
            continue
        found = call_media(caller, receiver, media)
        if not isinstance(found, CallMedia):
            missing |= dict.fromkeys(found)
            continue
        if found.picture_kbps + found.speech_kbps > picture_kbps + speech_kbps:
            steps = found.steps
        picture_kbps, speech_kbps = max(picture_kbps, found.picture_kbps), max(speech_kbps, found.speech_kbps)
    if missing:
        return tuple(missing)
    copies = sorted(((_copies_count(walk, one, one_copy=media.video_multicast), one) for one in called), key=_order)
    matched = _most_calls(copies, len(units))
    return _Load(
        calls_count=len(matched),
        picture_kbps=sum(matched) * picture_kbps,
        speech_kbps=len(matched) * speech_kbps,
        steps=steps if matched else (),
    )


def _order(weighed: tuple[int, _Called]) -> tuple[int, str]:
    return -weighed[0], weighed[1].id


def _called(walk: Walk, callers: dict[str, Unit], receivers: Iterable[Unit]) -> Iterator[_Called]:
    by_home: dict[str, list[Unit]] = {}
    callers_of_desk = tuple(
        ident
        for ident, unit in callers.items()
        if (entrance := walk.find(Entrance, unit.entrance)) is not None and entrance.calls_desk
    )
    for unit in receivers:
        if unit.kind is UnitKind.SMU and callers_of_desk:
            yield _Called(unit.id, callers_of_desk, (unit,), in_turn=False)
        elif unit.kind is UnitKind.URU and unit.dwelling is not None:
            by_home.setdefault(unit.dwelling, []).append(unit)
    for home, units in by_home.items():
        dwelling = walk.find(Dwelling, home)
        if dwelling is None:
            continue
        able = tuple(
            one.id
            for entrance in walk.entrances_serving(dwelling)
            for one in walk.units_at(entrance.id)
            if one.id in callers
        )
        if able:
            mode = dwelling.ring_mode or walk.settings().choices.ring_mode
            yield _Called(home, able, tuple(units), in_turn=mode is RingMode.IN_TURN)


def _types(
    walk: Walk, callers: dict[str, Unit], called: Iterable[_Called]
) -> Iterator[tuple[Profile | None, Profile | None]]:
    """Yield the pairs of unit types that call each other, each once."""
    pairs = {
        (callers[ident].profile, receiver.profile)
        for one in called
        for ident in one.callers
        for receiver in one.receivers
    }
    for caller, receiver in sorted(pairs):
        yield walk.profile(caller), walk.profile(receiver)


def _copies_count(walk: Walk, called: _Called, *, one_copy: bool) -> int:
    """Return how many copies of the picture cross the link while a dwelling rings."""
    watching = [unit for unit in called.receivers if (profile := walk.profile(unit.profile)) and profile.video]
    return min(len(watching), 1) if one_copy or called.in_turn else len(watching)


def _most_calls(called: list[tuple[int, _Called]], callers_count: int) -> list[int]:
    """Return the weights of those called in the heaviest set of calls in which each caller calls one.

    Sets of dwellings that can all be called at once form a matroid, so taking the heaviest first is best; whether one
    more can be called is a search for an augmenting path (Kuhn 1955, from memory).
    """
    calls: dict[str, _Called] = {}

    def place(one: _Called, tried: set[str]) -> bool:
        for caller in one.callers:
            if caller in tried:
                continue
            tried.add(caller)
            if caller not in calls or place(calls[caller], tried):
                calls[caller] = one
                return True
        return False

    matched: list[int] = []
    for weight, one in called:
        if len(matched) == callers_count:
            break
        if place(one, set()):
            matched.append(weight)
    return matched
