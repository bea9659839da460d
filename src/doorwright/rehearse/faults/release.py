"""Faults of releasing doors: digits, rights, contacts, and locks that click but hold."""

from collections.abc import Callable, Iterator
from dataclasses import replace
from random import Random
from typing import Final

from doorwright.rehearse.box import Box, KeyForm, Release
from doorwright.rehearse.faults.fault import Boxes, Fault, UnfitError, altered, frees, in_boxes
from doorwright.rehearse.lock import PUSHES_AFTER_S, Circuit, Lock
from doorwright.rehearse.looks import Look
from doorwright.rehearse.planned import Planned

_THIN_RATIO: Final = 15.0
"""A cable twice as long, of bell wire (0.2 mm²) in place of 1.5 mm²: 2 · 1.5/0.2."""
_SAGGING_RATIO: Final = 0.8
"""The output of a supply that is overloaded or set too low, of that of its data sheet (our own choice)."""
_PRESSED_RATIO: Final = 4.0
"""The pull that a latch asks for on which a leaf presses, over that of a leaf which is true (our own choice)."""


def release_faults() -> Iterator[Fault]:
    """Yield the faults of releasing doors."""
    yield Fault("release-digit", "release digit wrong", Look.RELEASE_DEAD, frees, in_boxes(_digit))
    yield Fault("release-form", "keys told in another form", Look.RELEASE_DEAD, frees, in_boxes(_form))
    yield Fault("right-missing", "release not permitted", Look.RELEASE_DEAD, _has_freers, in_boxes(_right_missing))
    contact = "relay wired to the wrong contact"
    yield Fault("release-contact", contact, Look.OTHER_DOOR, _frees_two, in_boxes(_contact))
    yield Fault("lock-cable", "lock cable too thin or too long", Look.HELD, _pulls, in_boxes(_lock_cable))
    yield Fault("lock-supply", "lock supply sags under load", Look.HELD, _pulls, in_boxes(_lock_supply))
    yield Fault("strike-misaligned", "misaligned strike", Look.HELD, _pulls, in_boxes(_strike_misaligned))
    yield Fault("release-short", "release time too short", Look.HELD, _has_lock, in_boxes(_release_short))


def _frees_two(_plan: Planned, box: Box) -> bool:
    return len(box.releases) > 1


def _has_freers(plan: Planned, box: Box) -> bool:
    return frees(plan, box) and any(one.numbers for release in box.releases for one in release.freers)


def _has_lock(_plan: Planned, box: Box) -> bool:
    return any(release.relay is not None and release.lock is not None for release in box.releases)


def _pulls(_plan: Planned, box: Box) -> bool:
    return any(_is_pulled(release) for release in box.releases)


def _is_pulled(release: Release) -> bool:
    """Whether it takes current to free the lock, over a circuit that the plan knows."""
    lock = release.lock
    known = lock is not None and lock.current_frees and lock.circuit is not None and lock.minimum_v is not None
    return known and release.relay is not None


def _digit(_boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    return altered(box, releases=tuple(replace(one, digit="0") for one in box.releases))


def _form(_boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    return altered(box, hears=frozenset({KeyForm.INFO}))


def _right_missing(_boxes: Boxes, box: Box, chance: Random) -> Boxes:
    """Somebody who may free the doors was left out of the list."""
    known = sorted({number for release in box.releases for one in release.freers for number in one.numbers})
    missing = chance.choice(known)
    return altered(
        box,
        releases=tuple(
            replace(release, freers=tuple(replace(one, numbers=one.numbers - {missing}) for one in release.freers))
            for release in box.releases
        ),
    )


def _contact(_boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    doors = [one.door for one in box.releases]
    crossed = (*doors[1:], doors[0])
    releases = (replace(release, door=door) for release, door in zip(box.releases, crossed, strict=True))
    return altered(box, releases=tuple(releases))


def _circuit(box: Box) -> Circuit:
    for release in box.releases:
        if _is_pulled(release) and release.lock is not None and release.lock.circuit is not None:
            return release.lock.circuit
    raise UnfitError(f"{box.name} frees no lock that takes current for it")


def _lock_cable(_boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    node = _circuit(box).node

    def thinned(lock: Lock) -> Lock:
        circuit = lock.circuit
        if circuit is None or circuit.node != node:
            return lock
        runs = tuple(
            replace(run, loop_ohm=run.loop_ohm * _THIN_RATIO) if run.far == node else run for run in circuit.wires.runs
        )
        return replace(lock, circuit=replace(circuit, wires=replace(circuit.wires, runs=runs)))

    return altered(box, releases=_with_locks(box, thinned))


def _lock_supply(boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    """All that the supply feeds gets less, at whatever unit."""
    source = _circuit(box).source

    def sagging(lock: Lock) -> Lock:
        circuit = lock.circuit
        if circuit is None or circuit.source != source:
            return lock
        wires = circuit.wires.fed_at(circuit.wires.output.open_v * _SAGGING_RATIO)
        return replace(lock, circuit=replace(circuit, wires=wires))

    return {one.id: replace(one, releases=_with_locks(one, sagging)) for one in boxes.values() if one.releases}


def _strike_misaligned(_boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    node = _circuit(box).node

    def pressed(lock: Lock) -> Lock:
        at = lock.circuit is not None and lock.circuit.node == node
        return replace(lock, side_load_ratio=_PRESSED_RATIO) if at else lock

    return altered(box, releases=_with_locks(box, pressed))


def _release_short(_boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    """The time was entered in the wrong unit: tenths of a second for seconds."""

    def short(lock: Lock) -> Lock:
        return replace(lock, release_s=(lock.release_s or PUSHES_AFTER_S) / 10.0)

    return altered(box, releases=_with_locks(box, short))


def _with_locks(box: Box, change: Callable[[Lock], Lock]) -> tuple[Release, ...]:
    return tuple(
        release if release.lock is None else replace(release, lock=change(release.lock)) for release in box.releases
    )
