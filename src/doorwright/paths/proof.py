"""The proof of the call paths: for every entrance and whom it calls, the week cut into stretches of one behaviour.

Nothing is sampled. An entrance's timetables, and those of the diverts and rights that can matter, cut the week into
stretches in which none of them begins or ends; each stretch is followed once, and equal neighbours are joined.
"""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import NamedTuple, TypeAlias

from doorwright.model.calling import DAY_MIN, Timetable, TimetablePurpose
from doorwright.model.door import ReleaseRight
from doorwright.model.label import natural_key
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.walk import Walk
from doorwright.paths import week
from doorwright.paths.call import Behaviour, Call, End, Target, TargetKind
from doorwright.paths.follow import Follower, Inside, covers
from doorwright.paths.kinds import Bundle, Kind, Kinds
from doorwright.paths.week import Spans

Coverage: TypeAlias = tuple[bool, ...]
"""Which of the rights to an entrance's doors cover a dwelling."""


class Stretch(NamedTuple):
    """From one minute of the axis up to another, in which the behaviour does not change."""

    start_min: int
    end_min: int
    behaviour: Behaviour


Partition: TypeAlias = tuple[Stretch, ...]
"""The whole axis, stretch after stretch."""


@dataclass(frozen=True, slots=True)
class Calls:
    """What calls do at every moment."""

    stretches: Partition

    @property
    def behaviours(self) -> tuple[Behaviour, ...]:
        """Every behaviour of the week, each once, in order of first appearance."""
        return tuple(dict.fromkeys(stretch.behaviour for stretch in self.stretches))

    @property
    def heard(self) -> tuple[Behaviour, ...]:
        """The behaviours while the entrance lets calls through; where it never does, the silence."""
        return tuple(b for b in self.behaviours if b.call.end is not End.SILENT) or self.behaviours

    def at(self, minute: int) -> Behaviour:
        """Return the behaviour at a minute of the axis."""
        return self.stretches[bisect_right(self.stretches, minute, key=lambda s: s.start_min) - 1].behaviour

    def when(self, behaviours: Iterable[Behaviour]) -> Spans:
        """Return when any of these behaviours holds."""
        wanted = set(behaviours)
        return week.union((s.start_min, s.end_min) for s in self.stretches if s.behaviour in wanted)

    def rounds(self) -> Iterator[tuple[Call, Spans]]:
        """Yield the loops and the calls sent on too often, and when they are."""
        found: dict[Call, list[Behaviour]] = {}
        for behaviour in self.behaviours:
            for call in set(behaviour.call.walk()):
                if call.end in (End.LOOP, End.TOO_OFTEN):
                    found.setdefault(call, []).append(behaviour)
        for call, behaviours in sorted(found.items(), key=lambda item: item[0].chain):
            yield call, self.when(behaviours)

    @property
    def rings_nobody(self) -> Spans:
        """When nobody is rung though the entrance lets calls through."""
        return self.when(b for b in self.behaviours if b.call.end is not End.SILENT and b.call.first_rung is None)

    @property
    def ever_rings(self) -> bool:
        """Whether there is any moment at which somebody is rung."""
        return any(b.call.first_rung is not None for b in self.behaviours)


@dataclass(frozen=True, slots=True)
class Group(Calls):
    """Calls to dwellings that behave alike at an entrance, at every moment."""

    bundles: tuple[Bundle, ...]

    @property
    def dwellings(self) -> tuple[str, ...]:
        """Their identifiers."""
        return tuple(ident for bundle in self.bundles for ident in bundle)

    @property
    def dwellings_count(self) -> int:
        """How many they are."""
        return sum(map(len, self.bundles))


@dataclass(frozen=True, slots=True)
class DeskCalls(Calls):
    """Calls to a desk, made with its key or its number. The site may lack the desk that a key names."""

    desk: str


@dataclass(frozen=True, slots=True)
class Round:
    """Calls that go round in a loop, or are sent on too often: to which dwellings or desk, through whom, and when."""

    entrance: str
    dwellings: tuple[str, ...]
    desk: str | None
    end: End
    chain: tuple[Target, ...]
    spans: Spans


@dataclass(frozen=True, slots=True)
class Unreached:
    """Dwellings or a desk to which calls from an entrance ring nobody, though the entrance lets them through."""

    entrance: str
    dwellings: tuple[str, ...]
    desk: str | None
    spans: Spans
    ever: bool
    """Whether there is any moment at which somebody is rung."""


@dataclass(frozen=True, slots=True)
class EntranceProof:
    """What happens at one entrance through the week."""

    entrance: str
    groups: tuple[Group, ...]
    desks: tuple[DeskCalls, ...]
    silent: Spans
    trade: Spans
    doors: tuple[str, ...]
    _group_of: Mapping[str, Group] = field(repr=False, compare=False)

    def group_of(self, dwelling: str) -> Group:
        """Return the group of a dwelling.

        Raises:
            LookupError: the entrance does not serve the dwelling.
        """
        try:
            return self._group_of[dwelling]
        except KeyError:
            raise LookupError(f"entrance {self.entrance!r} does not serve dwelling {dwelling!r}") from None

    def rounds(self) -> Iterator[Round]:
        """Yield the loops, and the calls sent on too often."""
        for group in self.groups:
            for call, spans in group.rounds():
                yield Round(self.entrance, group.dwellings, None, call.end, call.chain, spans)
        for calls in self.desks:
            for call, spans in calls.rounds():
                yield Round(self.entrance, (), calls.desk, call.end, call.chain, spans)

    def unreached(self) -> Iterator[Unreached]:
        """Yield the dwellings and desks for which nobody rings at some open moment, or ever."""
        for group in self.groups:
            if spans := group.rings_nobody:
                yield Unreached(self.entrance, group.dwellings, None, spans, group.ever_rings)
        for calls in self.desks:
            if spans := calls.rings_nobody:
                yield Unreached(self.entrance, (), calls.desk, spans, calls.ever_rings)

    @property
    def calls(self) -> tuple[Group | DeskCalls, ...]:
        """All that visitors can call: the groups of dwellings, then the desks."""
        return (*self.groups, *self.desks)

    def desk_calls(self, desk: str) -> DeskCalls:
        """Return the calls to a desk.

        Raises:
            LookupError: the entrance does not call the desk.
        """
        for calls in self.desks:
            if calls.desk == desk:
                return calls
        raise LookupError(f"entrance {self.entrance!r} does not call desk {desk!r}")

    @property
    def served(self) -> Mapping[str, Group]:
        """The dwellings that the entrance serves, each with its group."""
        return self._group_of

    def freed_by(self, door: str) -> tuple[Target, ...]:
        """Return who may ever free a door while answering a call from this entrance."""
        frees = (free for calls in self.calls for behaviour in calls.behaviours for free in behaviour.frees)
        return tuple(sorted({free.target for free in frees if door in free.doors}))


class _GroupOf(Mapping[str, Group]):
    """Groups by dwelling, looked up through the kinds: 10 000 dwellings at 40 entrances need no table each."""

    def __init__(self, walk: Walk, kinds: Kinds, rights: tuple[ReleaseRight, ...], groups: Mapping[object, Group]):
        self._walk = walk
        self._kinds = kinds
        self._rights = rights
        self._groups = groups
        self._served: frozenset[str] | None = None

    def __getitem__(self, ident: str) -> Group:
        dwelling = self._walk.find(Dwelling, ident)
        if dwelling is None or ident not in self._all():
            raise KeyError(ident)
        return self._groups[self._kinds.of(dwelling), _coverage(self._walk, self._rights, dwelling)]

    def _all(self) -> frozenset[str]:
        if self._served is None:
            self._served = frozenset(ident for group in set(self._groups.values()) for ident in group.dwellings)
        return self._served

    def __iter__(self) -> Iterator[str]:
        return iter(self._all())

    def __len__(self) -> int:
        return len(self._all())


@dataclass(frozen=True, slots=True)
class Proof:
    """What happens at every entrance through the week."""

    entrances: Mapping[str, EntranceProof]

    def groups(self, entrance: str) -> tuple[Group, ...]:
        """Return the groups of dwellings that behave alike at an entrance.

        Raises:
            LookupError: there is no such entrance.
        """
        return self.entrances[entrance].groups

    def stretches(self, entrance: str, dwelling: str) -> Partition:
        """Return the week of calls from an entrance to a dwelling, cut where anything changes.

        Raises:
            LookupError: there is no such entrance, or it does not serve the dwelling.
        """
        return self.entrances[entrance].group_of(dwelling).stretches

    def desk_stretches(self, entrance: str, desk: str) -> Partition:
        """Return the week of calls from an entrance to a desk, cut where anything changes.

        Raises:
            LookupError: there is no such entrance, or it does not call the desk.
        """
        return self.entrances[entrance].desk_calls(desk).stretches

    def at(self, entrance: str, dwelling: str, day: int, minute: int) -> Behaviour:
        """Return what a call does at a minute of a day of the axis (``week.day_index``).

        Raises:
            LookupError: there is no such entrance, or it does not serve the dwelling.
            ValueError: there is no such day or minute.
        """
        if not (0 <= day < week.DAYS_COUNT and 0 <= minute < DAY_MIN):
            raise ValueError(
                f"day {day}, minute {minute}: days are 0 to {week.DAYS_COUNT - 1}, minutes below {DAY_MIN}"
            )
        return self.entrances[entrance].group_of(dwelling).at(day * DAY_MIN + minute)

    @property
    def silent(self) -> Mapping[str, Spans]:
        """When each entrance lets no call through, for those that ever do not."""
        return {ident: proof.silent for ident, proof in self.entrances.items() if proof.silent}

    @property
    def rounds(self) -> tuple[Round, ...]:
        """All loops, and all calls sent on too often."""
        return tuple(found for proof in self.entrances.values() for found in proof.rounds())

    @property
    def unreached(self) -> tuple[Unreached, ...]:
        """All dwellings that an entrance serves, and desks that it calls, and does not reach."""
        return tuple(found for proof in self.entrances.values() for found in proof.unreached())

    @property
    def freed_by_nobody(self) -> tuple[str, ...]:
        """The doors that nobody who answers may ever free."""
        return tuple(d for proof in self.entrances.values() for d in proof.doors if not proof.freed_by(d))

    @property
    def freed_by_strangers(self) -> tuple[tuple[str, Target], ...]:
        """Doors with somebody who may free them though their entrance does not serve them: calls sent on reach them."""
        return tuple(
            (door, target)
            for proof in self.entrances.values()
            for door in proof.doors
            for target in proof.freed_by(door)
            if target.kind is TargetKind.DWELLING and target.id not in proof.served
        )


def prove(walk: Walk) -> Proof:
    """Prove the call paths of a whole site."""
    kinds, cutter = Kinds(walk), _Cutter(walk)
    ordered = sorted(walk.all(Entrance), key=lambda entrance: (natural_key(entrance.name), entrance.id))
    return Proof(MappingProxyType({entrance.id: _prove(walk, entrance, kinds, cutter) for entrance in ordered}))


def prove_entrance(walk: Walk, entrance: Entrance) -> EntranceProof:
    """Prove the call paths of one entrance alone."""
    return _prove(walk, entrance, Kinds(walk), _Cutter(walk))


def partition_of(walk: Walk, entrance: Entrance, dwelling: Dwelling) -> Partition:
    """Return the week of calls from one entrance to one dwelling."""
    return _partition(Follower(walk, entrance, {}), _home(dwelling.id), _Cutter(walk), {}, {})


def desk_calls_of(walk: Walk, entrance: Entrance) -> tuple[DeskCalls, ...]:
    """Return the week of calls from one entrance to each desk that visitors can call there."""
    follower = Follower(walk, entrance, {})
    return _desk_calls(follower, _Cutter(walk), {}, {}) if follower.desks else ()


def calls_to_desk(walk: Walk, entrance: Entrance, desk: str) -> DeskCalls:
    """Return the week of calls from one entrance that come to a desk, whether or not visitors can call it there."""
    target = Target(TargetKind.DESK, desk)
    return DeskCalls(_partition(Follower(walk, entrance, {}), target, _Cutter(walk), {}, {}), desk)


def _home(dwelling: str) -> Target:
    return Target(TargetKind.DWELLING, dwelling)


@dataclass(frozen=True, slots=True)
class _Cut:
    """The axis cut by some timetables: the states they are in, and where each piece begins and which state it has."""

    states: tuple[Inside, ...]
    pieces: tuple[tuple[int, int], ...]


class _Cutter:
    """Cuts the axis by sets of timetables, each once."""

    def __init__(self, walk: Walk) -> None:
        self._walk = walk
        self._spans: dict[str, Spans] = {}
        self._cut: dict[frozenset[str], _Cut] = {}

    def spans(self, ident: str) -> Spans:
        """Return when a timetable holds; one that the site does not have never does."""
        spans = self._spans.get(ident)
        if spans is None:
            timetable = self._walk.find(Timetable, ident)
            spans = self._spans[ident] = week.spans_of(timetable) if timetable else ()
        return spans

    def union(self, timetables: Iterable[Timetable]) -> Spans:
        """Return when any of the timetables holds."""
        return week.union(span for timetable in timetables for span in self.spans(timetable.id))

    def cut(self, timetables: frozenset[str]) -> _Cut:
        """Return the axis cut by these timetables."""
        cut = self._cut.get(timetables)
        if cut is None:
            states: dict[Inside, int] = {}
            stretches = week.stretches({ident: self.spans(ident) for ident in sorted(timetables)})
            pieces = tuple((start_min, states.setdefault(inside, len(states))) for start_min, _, inside in stretches)
            cut = self._cut[timetables] = _Cut(tuple(states), pieces)
        return cut


def _prove(walk: Walk, entrance: Entrance, kinds: Kinds, cutter: _Cutter) -> EntranceProof:
    follower = Follower(walk, entrance, kinds.heard)
    rights = tuple(right for door in follower.doors for right in walk.rights_to(door.id))
    known: dict[Behaviour, Behaviour] = {}
    alike: dict[tuple[object, ...], Partition] = {}
    partitions: dict[tuple[Kind, Coverage], Partition] = {}
    bundles_of: dict[int, list[Bundle]] = {}
    for kind, bundle in _bundles(walk, entrance, kinds, rights):
        first = walk.get(Dwelling, bundle[0])
        key = (kind, _coverage(walk, rights, first))
        if key not in partitions:
            partitions[key] = _partition(follower, _home(first.id), cutter, known, alike)
        bundles_of.setdefault(id(partitions[key]), []).append(bundle)
    # dwellings met on unlike sets of timetables may still behave alike; equal behaviours are one value by now
    shapes: dict[tuple[tuple[int, int], ...], Partition] = {}
    joined: dict[int, Partition] = {}
    for partition in alike.values():
        shape = tuple((stretch.start_min, id(stretch.behaviour)) for stretch in partition)
        joined[id(partition)] = shapes.setdefault(shape, partition)
    merged: dict[int, list[Bundle]] = {}
    for ident, bundles in bundles_of.items():
        merged.setdefault(id(joined[ident]), []).extend(bundles)
    groups = {id(one): Group(one, tuple(merged[id(one)])) for one in shapes.values()}
    hours = follower.timetables(TimetablePurpose.CALL)
    return EntranceProof(
        entrance=entrance.id,
        groups=tuple(sorted(groups.values(), key=lambda group: -group.dwellings_count)),
        desks=_desk_calls(follower, cutter, known, {}),
        silent=week.outside(cutter.union(hours)) if hours else (),
        trade=cutter.union(follower.timetables(TimetablePurpose.TRADE_RELEASE)),
        doors=tuple(door.id for door in follower.doors),
        _group_of=_GroupOf(walk, kinds, rights, {key: groups[id(joined[id(one)])] for key, one in partitions.items()}),
    )


def _desk_calls(
    follower: Follower,
    cutter: _Cutter,
    known: dict[Behaviour, Behaviour],
    alike: dict[tuple[object, ...], Partition],
) -> tuple[DeskCalls, ...]:
    desks = (Target(TargetKind.DESK, ident) for ident in follower.desks)
    return tuple(DeskCalls(_partition(follower, desk, cutter, known, alike), desk.id) for desk in desks)


def _bundles(
    walk: Walk, entrance: Entrance, kinds: Kinds, rights: tuple[ReleaseRight, ...]
) -> Iterator[tuple[Kind, Bundle]]:
    """Yield the dwellings that an entrance serves, in bundles of one kind, core and set of rights."""
    named = frozenset(ident for right in rights for ident in right.dwellings)
    in_buildings = (core.id for building in entrance.serves_buildings for core in walk.cores_of(building))
    cores = dict.fromkeys([*in_buildings, *entrance.serves_cores])
    for core in cores:
        for kind, bundle in kinds.of_core(core).items():
            if named.isdisjoint(bundle):
                yield kind, bundle
            else:
                yield from _split(walk, kinds, rights, bundle)
    single = (ident for ident in dict.fromkeys(entrance.serves_dwellings))
    beyond = (d for d in (walk.find(Dwelling, ident) for ident in single) if d is not None and d.core not in cores)
    yield from _split(walk, kinds, rights, tuple(dwelling.id for dwelling in beyond))


def _split(
    walk: Walk, kinds: Kinds, rights: tuple[ReleaseRight, ...], dwellings: Bundle
) -> Iterator[tuple[Kind, Bundle]]:
    lists: dict[tuple[Kind, Coverage], list[str]] = {}
    for ident in dwellings:
        dwelling = walk.get(Dwelling, ident)
        lists.setdefault((kinds.of(dwelling), _coverage(walk, rights, dwelling)), []).append(ident)
    for (kind, _), idents in lists.items():
        yield kind, tuple(idents)


def _coverage(walk: Walk, rights: tuple[ReleaseRight, ...], dwelling: Dwelling) -> Coverage:
    return tuple(covers(walk, right, dwelling) for right in rights)


def _partition(
    follower: Follower,
    called: Target,
    cutter: _Cutter,
    known: dict[Behaviour, Behaviour],
    alike: dict[tuple[object, ...], Partition],
) -> Partition:
    """Follow calls to a dwelling or desk once for each state of the timetables, and lay the answers along the axis.

    Where every state was answered alike before, the partition is shared.
    """
    met = follower.timetables_met(called)
    cut = cutter.cut(met)
    answers = []
    for inside in cut.states:
        made = follower.behaviour(called, inside)
        answers.append(known.setdefault(made, made))
    key = (met, *map(id, answers))  # what is in ``known`` is the same where it is equal
    partition = alike.get(key)
    if partition is None:
        partition = alike[key] = tuple(_joined(cut, answers))
    return partition


def _joined(cut: _Cut, answers: list[Behaviour]) -> Iterator[Stretch]:
    begin_min, last = 0, answers[cut.pieces[0][1]]
    for start_min, state in cut.pieces[1:]:
        apart = start_min >= week.WEEK_MIN and start_min % DAY_MIN == 0
        if apart or answers[state] is not last:
            yield Stretch(begin_min, start_min, last)
            begin_min, last = start_min, answers[state]
    yield Stretch(begin_min, week.AXIS_MIN, last)
