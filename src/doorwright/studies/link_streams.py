"""How full can calls make a link of the network?"""

from collections.abc import Callable, Iterable, Iterator
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
    callers: tuple[Unit, ...]
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
        after = beyond(walk, run.far, without=run.id)
        if run.near in after:
            return Study(run.subject, TITLE, missing=(*missing, Missing(CableRun.KIND, "one way between the switches")))
        loads = _loads_between(walk, after)
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


def _loads_between(
    walk: Walk, after: frozenset[str]
) -> tuple[_Load | tuple[Missing, ...], _Load | tuple[Missing, ...]]:
    """Return what a link carries to the switches ``after`` it and from them; every other switch lies before it.

    Only what lies after the link, and whom the call units there serve, is looked at: near the ends of the tree that is
    little, so that all the links of a large site are not each a walk through all of it.
    """

    def is_after(unit: Unit) -> bool:
        return switch_of(walk, unit) in after

    def is_before(unit: Unit) -> bool:
        switch = switch_of(walk, unit)
        return switch is not None and switch not in after

    beyond_it = tuple(units_on(walk, after))
    callers = [unit for unit in beyond_it if unit.kind is UnitKind.VCU]
    served = [one for one in _receivers_of(walk, callers) if is_before(one)]
    return _load(walk, is_before, beyond_it), _load(walk, is_after, served)


def _loads_at_unit(walk: Walk, unit: Unit) -> tuple[_Load | tuple[Missing, ...], _Load | tuple[Missing, ...]]:
    """Return what a unit's own link carries to it and from it."""
    if unit.kind is UnitKind.VCU:
        return _Load(), _load(walk, lambda caller: caller.id == unit.id, _receivers_of(walk, (unit,)))
    return _load(walk, lambda _: True, (unit,)), _Load()


def _receivers_of(walk: Walk, callers: Iterable[Unit]) -> tuple[Unit, ...]:
    """Return the receivers and desks that some call units may call, each once."""
    entrances = {unit.entrance: walk.find(Entrance, unit.entrance) for unit in callers}
    found = {
        one.id: one
        for entrance in entrances.values()
        if entrance is not None
        for home in walk.dwellings_served(entrance)
        for one in walk.units_in(home.id)
    }
    desks = walk.units_of_kind(UnitKind.SMU) if entrances else ()
    return (*found.values(), *desks)


def _load(walk: Walk, calls: Callable[[Unit], bool], receivers: Iterable[Unit]) -> _Load | tuple[Missing, ...]:
    """Return the worst load of calls to receivers beyond a link from those call units that ``calls`` picks."""
    media = walk.settings().media
    speech_kbps = picture_kbps = 0.0
    steps: tuple[Step, ...] = ()
    missing: dict[Missing, None] = {}
    called = list(_called(walk, calls, receivers))
    units = {caller.id: caller for one in called for caller in one.callers}
    for caller, receiver in _types(walk, called):
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


def _called(walk: Walk, calls: Callable[[Unit], bool], receivers: Iterable[Unit]) -> Iterator[_Called]:
    at: dict[str, tuple[Unit, ...]] = {}

    def callers_at(entrance: Entrance) -> tuple[Unit, ...]:
        if entrance.id not in at:
            units = (unit for unit in walk.units_at(entrance.id) if unit.kind is UnitKind.VCU)
            at[entrance.id] = tuple(unit for unit in units if calls(unit))
        return at[entrance.id]

    by_home: dict[str, list[Unit]] = {}
    desks: list[Unit] = []
    for unit in receivers:
        if unit.kind is UnitKind.SMU:
            desks.append(unit)
        elif unit.kind is UnitKind.URU and unit.dwelling is not None:
            by_home.setdefault(unit.dwelling, []).append(unit)
    if desks:
        entrances = (entrance for entrance in walk.all(Entrance) if entrance.calls_desk)
        able = tuple(caller for entrance in entrances for caller in callers_at(entrance))
        yield from (_Called(desk.id, able, (desk,), in_turn=False) for desk in desks if able)
    for home, units in by_home.items():
        dwelling = walk.find(Dwelling, home)
        if dwelling is None:
            continue
        able = tuple(caller for entrance in walk.entrances_serving(dwelling) for caller in callers_at(entrance))
        if able:
            mode = dwelling.ring_mode or walk.settings().choices.ring_mode
            yield _Called(home, able, tuple(units), in_turn=mode is RingMode.IN_TURN)


def _types(walk: Walk, called: Iterable[_Called]) -> Iterator[tuple[Profile | None, Profile | None]]:
    """Yield the pairs of unit types that call each other, each once."""
    pairs = {
        (caller.profile, receiver.profile) for one in called for caller in one.callers for receiver in one.receivers
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
            if caller.id in tried:
                continue
            tried.add(caller.id)
            if caller.id not in calls or place(calls[caller.id], tried):
                calls[caller.id] = one
                return True
        return False

    matched: list[int] = []
    for weight, one in called:
        if len(matched) == callers_count:
            break
        if place(one, set()):
            matched.append(weight)
    return matched
