"""How full can calls make a link of the network?"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Final, TypeAlias

from doorwright.calc.streams import link_use
from doorwright.kernel.verdict import Missing
from doorwright.model.network import CableRun, Switch
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.profile import Profile
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.studies.call_media import CallMedia, call_media
from doorwright.studies.calls_at_once import AlikeCalled, heaviest_calls
from doorwright.studies.homes import (
    Caller,
    Home,
    Receiver,
    callers_at,
    entrances_fed,
    home_of,
    homes_fed,
    homes_served,
    receiver_of,
)
from doorwright.studies.study import Step, Study, Trail
from doorwright.studies.switch_tree import beyond, switch_of
from doorwright.studies.visiting import desk_units

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
    """Dwellings or desks that are alike: who can call them over a link, and the types of their receivers beyond it."""

    callers: tuple[Caller, ...]
    receivers: tuple[str, ...]
    in_turn: bool
    count: int


@dataclass(frozen=True, slots=True)
class _Load:
    """What the calls in one direction take: pictures one way, speech both ways."""

    calls_count: int = 0
    picture_kbps: float = 0.0
    speech_kbps: float = 0.0
    steps: tuple[Step, ...] = ()


_Loads: TypeAlias = tuple[_Load | tuple[Missing, ...], _Load | tuple[Missing, ...]]
"""Down and up, or what is missing for either."""

_Side: TypeAlias = Callable[[str | None], bool]
"""Says of the switch that feeds a unit whether it lies on one side of a link."""


def link_streams(walk: Walk, run: CableRun) -> Study[LinkStreams]:
    """Study the worst load of a run between two switches, or between a switch and a unit.

    While a dwelling rings, its receivers all see the picture: each by a copy of its own where pictures are not sent as
    multicast. Speech is counted beside it, as if one had answered already. Where call units send at several rates, the
    highest counts: the load is an upper bound. The question does not arise for a run that is no link of the network.
    """
    near = walk.find(Switch, run.near)
    far = walk.find(Switch, run.far)
    unit = walk.find(Unit, run.far)
    if near is None or (far is None and unit is None) or (unit is not None and walk.once(switch_of, unit) != near.id):
        return Study(run.subject, TITLE)
    rates = [_port_mbps(walk, near, run.near_port)]
    if far is not None:
        rates.append(_port_mbps(walk, far, run.far_port))
    else:
        own = walk.profile(unit.profile) if unit is not None else None
        if own is not None and own.port_mbps is not None:
            rates.append(float(own.port_mbps))  # the slower end sets the rate
    missing: dict[Missing, None] = {rate: None for rate in rates if isinstance(rate, Missing)}
    loads: _Loads
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
    value, steps = _used(
        (down.calls_count, down.picture_kbps),
        (up.calls_count, up.picture_kbps),
        down.speech_kbps + up.speech_kbps,
        link_mbps,
        limit_ratio,
    )
    return Study(run.subject, TITLE, value, steps=(*down.steps, *up.steps, *steps))


# A building has thousands of links but few loads: each case is worked out once.
@lru_cache(maxsize=4096)
def _used(
    down: tuple[int, float], up: tuple[int, float], speech_kbps: float, link_mbps: float, limit_ratio: float
) -> tuple[LinkStreams, tuple[Step, ...]]:
    """Return how full a link is, of the number of calls and their pictures' kilobits per second each way."""
    (down_count, down_kbps), (up_count, up_kbps) = down, up
    calls_count = down_count + up_count
    trail = Trail()
    use = trail.run(
        link_use,
        down_kbps=down_kbps + speech_kbps,
        up_kbps=up_kbps + speech_kbps,
        link_mbps=link_mbps,
        limit_ratio=limit_ratio,
        call_kbps=(max(down_kbps, up_kbps) + speech_kbps) / calls_count if calls_count else 0.0,
    )
    value = LinkStreams(
        link_mbps=link_mbps,
        down_calls_count=down_count,
        up_calls_count=up_count,
        down_kbps=use.down_kbps,
        up_kbps=use.up_kbps,
        use_ratio=use.use_ratio,
        assumed_limit_ratio=limit_ratio,
        most_calls_count=use.calls_most_count,
    )
    return value, trail.steps


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


def _loads_between(walk: Walk, after: frozenset[str]) -> _Loads:
    """Return what a link carries to the switches ``after`` it and from them; every other switch lies before it.

    Only what lies after the link, and whom the call units there serve, is looked at: near the ends of the tree that is
    little, so that all the links of a large site are not each a walk through all of it.
    """

    def is_after(switch: str | None) -> bool:
        return switch in after

    def is_before(switch: str | None) -> bool:
        return switch is not None and switch not in after

    # homes with receivers on several switches, or served by several entrances, have the same count at each of them
    fed: dict[Home, int] = {}
    entrances: set[str] = set()
    for switch in after:
        fed.update(walk.once_of(homes_fed, Switch, switch) or {})
        entrances.update(walk.once_of(entrances_fed, Switch, switch) or ())
    served: dict[Home, int] = {}
    for entrance in entrances:
        served.update(walk.once_of(homes_served, Entrance, entrance) or {})
    return (
        _load(walk, _called(walk, fed, calls=is_before, rings=is_after)),
        _load(walk, _called(walk, served, calls=is_after, rings=is_before)),
    )


def _called(walk: Walk, homes: Mapping[Home, int], *, calls: _Side, rings: _Side) -> Iterator[_Called]:
    """Yield the homes and desks with receivers on one side of a link that call units on its other side can call."""
    for home, count in homes.items():
        receivers = tuple(one.profile for one in home.receivers if one.kind is UnitKind.URU and rings(one.switch))
        if receivers:
            callers = tuple(caller for caller in _callers(walk, home.entrances) if calls(caller.switch))
            yield _Called(callers, receivers, home.in_turn, count)
    desks = Counter(desk.profile for desk in _desks(walk) if rings(desk.switch))
    if desks:
        entrances = tuple(entrance.id for entrance in walk.all(Entrance) if entrance.calls_desk)
        able = tuple(caller for caller in _callers(walk, entrances) if calls(caller.switch))
        yield from (_Called(able, (profile,), in_turn=False, count=count) for profile, count in desks.items())


def _callers(walk: Walk, entrances: Iterable[str]) -> Iterator[Caller]:
    for ident in entrances:
        yield from walk.once_of(callers_at, Entrance, ident) or ()


def _desks(walk: Walk) -> Iterator[Receiver]:
    return (receiver_of(walk, desk) for desk in desk_units(walk))


def _loads_at_unit(walk: Walk, unit: Unit) -> _Loads:
    """Return what a unit's own link carries to it and from it."""
    match unit.kind:
        case UnitKind.VCU:
            return _Load(), _load(walk, _called_from(walk, unit))
        case UnitKind.SMU:
            entrances = [entrance.id for entrance in walk.all(Entrance) if entrance.calls_desk]
        case UnitKind.URU:
            home = walk.once_of(home_of, Dwelling, unit.dwelling) if unit.dwelling is not None else None
            entrances = list(home.entrances) if home is not None else []
    callers = tuple(_callers(walk, entrances))
    return _load(walk, [_Called(callers, (unit.profile,), in_turn=False, count=1)]), _Load()


def _called_from(walk: Walk, unit: Unit) -> Iterator[_Called]:
    """Yield the homes and desks that one call unit can call."""
    entrance = walk.find(Entrance, unit.entrance)
    if entrance is None:
        return
    own = (Caller(unit.id, unit.profile, None),)
    for home, count in walk.once(homes_served, entrance).items():
        receivers = tuple(one.profile for one in home.receivers if one.kind is UnitKind.URU)
        yield _Called(own, receivers, home.in_turn, count)
    if entrance.calls_desk:
        yield from (_Called(own, (desk.profile,), in_turn=False, count=1) for desk in _desks(walk))


def _load(walk: Walk, called: Iterable[_Called]) -> _Load | tuple[Missing, ...]:
    """Return the worst load of calls over a link in one direction."""
    media = walk.settings().media
    speech_kbps = picture_kbps = 0.0
    steps: tuple[Step, ...] = ()
    missing: dict[Missing, None] = {}
    called = [one for one in called if one.callers and one.receivers]
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
    copies = heaviest_calls(
        AlikeCalled(
            callers=tuple(caller.id for caller in one.callers),
            count=one.count,
            weight=_copies_count(walk, one, one_copy=media.video_multicast),
        )
        for one in called
    )
    return _Load(
        calls_count=len(copies),
        picture_kbps=sum(copies) * picture_kbps,
        speech_kbps=len(copies) * speech_kbps,
        steps=steps if copies else (),
    )


def _types(walk: Walk, called: Iterable[_Called]) -> Iterator[tuple[Profile | None, Profile | None]]:
    """Yield the pairs of unit types that call each other, each once."""
    pairs = {(caller.profile, receiver) for one in called for caller in one.callers for receiver in one.receivers}
    for caller, receiver in sorted(pairs):
        yield walk.profile(caller), walk.profile(receiver)


def _copies_count(walk: Walk, called: _Called, *, one_copy: bool) -> int:
    """Return how many copies of the picture cross the link while a dwelling rings."""
    watching = [key for key in called.receivers if (profile := walk.profile(key)) is not None and profile.video]
    return min(len(watching), 1) if one_copy or called.in_turn else len(watching)
