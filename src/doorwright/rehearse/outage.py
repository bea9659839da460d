"""When the power goes: a night in which lamps are too much for a cable, and the mains failing for a while.

Mains fail for all at once. What hangs on a supply with a battery stays up until that is empty; everything else goes
dark, and with it whatever was registered there. When the mains are back, switches start first and then the units that
they feed. A unit that stayed up does not know that its registrar has forgotten it: it registers anew when its time is
over, not before.
"""

from collections import Counter
from dataclasses import dataclass
from functools import partial
from typing import Final, Protocol

from doorwright.rehearse.actors import Actor
from doorwright.rehearse.front_desk import ASKED_S
from doorwright.rehearse.journal import Journal
from doorwright.rehearse.plant import Plant
from doorwright.rehearse.power import restarts_at_night
from doorwright.rehearse.world import World

NIGHT_S: Final = 900.0
"""How much of a night is rehearsed: enough for several restarts (our own choice)."""
LAMPS_AFTER_S: Final = 20.0
"""How long after its start a unit switches its lamps on in the dark (our own choice)."""
REGISTERED_FOR_S: Final = 3600
"""For how long units register where a power cut is rehearsed: what a registrar commonly grants (common practice)."""
BACK_WITHIN_S: Final = 900.0
"""Who is not registered so long after the mains are back is off line (our own choice: starts take minutes)."""
_WAITED_S: Final = 7200.0
_LOOKS_EVERY_S: Final = 60.0


class Powered(Protocol):
    """A building, as far as its power is concerned."""

    world: World
    plant: Plant
    journal: Journal
    actors: dict[str, Actor]

    def switch_off(self, unit: str) -> None:
        """Take the power from a box."""

    def switch_on(self, unit: str) -> None:
        """Give power to a box again; it has started already."""

    def ask_for(self, asked_s: int) -> None:
        """Have units ask from now on to be registered for so many seconds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Outage:
    """A power cut: how long it was, which box was dark after how long, and when it was back on line.

    ``source_of`` says for each box on which supply it hangs, None for the mains. ``dark_s`` counts from when the mains
    failed; ``back_s`` from when they were back to when the box was known where it registers, or had started where it
    registers with nothing, looked at once a minute; who is missing there is not back. ``locks`` says for each supply
    that gave out how many locks were without power, and after how many seconds.
    """

    minutes: float
    source_of: dict[str, str | None]
    dark_s: dict[str, float]
    back_s: dict[str, float]
    locks: dict[str, tuple[int, float]]


def told_outage(outage: Outage) -> str:
    """Return a power cut in words: how long it was, how many stayed up, when the others were back."""
    units_count = len(outage.source_of)
    up_count = units_count - len(outage.dark_s)
    told = f"Power cut of {outage.minutes:.0f} minutes: {up_count} of {units_count} stayed up"
    if outage.back_s:
        told += (
            f"; {len(outage.back_s)} on line again within {max(outage.back_s.values()) / 60:.0f} minutes of the mains"
        )
    return told


def night(building: Powered) -> dict[str, int]:
    """Let it be night for a while, and return how often each unit restarted whose cable does not carry its lamps."""
    units = [unit for unit in restarts_at_night(building.plant) if unit in building.actors]
    units = [unit for unit in units if building.actors[unit].box.jack.link]
    if not units:
        return {}
    world = building.world
    ends_s = world.now_s + NIGHT_S
    counts = dict.fromkeys(units, 0)

    def lamps_on(unit: str) -> None:
        if world.now_s < ends_s:
            building.switch_off(unit)
            counts[unit] += 1
            world.at(world.now_s + building.actors[unit].box.restart_s, partial(started, unit))

    def started(unit: str) -> None:
        building.switch_on(unit)
        world.at(world.now_s + LAMPS_AFTER_S, partial(lamps_on, unit))

    for unit in units:
        world.at(world.now_s, partial(lamps_on, unit))
    world.run_until(ends_s + BACK_WITHIN_S)
    return counts


def power_cut(building: Powered, minutes: float) -> Outage:
    """Let the mains fail for some minutes, and wait until all are back or have had the time to be.

    Units must have registered for ``REGISTERED_FOR_S``; from then on they ask for as long as ever.
    """
    world, plant = building.world, building.plant
    began_s = world.now_s
    back_at_s = began_s + 60.0 * minutes
    source_of = {unit: plant.source_of(unit) for unit in building.actors}
    dark_s: dict[str, float] = {}
    for unit, source in source_of.items():
        found = plant.sources.get(source or "")
        lasts_s = 0.0 if source is None else 60.0 * found.lasts_min if found is not None else 60.0 * minutes
        if lasts_s < 60.0 * minutes and building.actors[unit].box.jack.link:
            dark_s[unit] = lasts_s
            world.at(began_s + lasts_s, partial(building.switch_off, unit))
            world.at(back_at_s + _starts_after_s(building, unit), partial(building.switch_on, unit))
    world.run_until(back_at_s)
    building.ask_for(ASKED_S)
    back_s: dict[str, float] = {}
    while len(back_s) < len(source_of) and world.now_s < back_at_s + _WAITED_S:
        since_s = world.now_s - back_at_s
        back_s |= {unit: since_s for unit in source_of if unit not in back_s and _is_on_line(building, unit)}
        world.run_until(world.now_s + _LOOKS_EVERY_S)
    building.journal.empty()
    locks = _locks_dark(building, 60.0 * minutes)
    return Outage(minutes=minutes, source_of=source_of, dark_s=dark_s, back_s=back_s, locks=locks)


def _locks_dark(building: Powered, cut_s: float) -> dict[str, tuple[int, float]]:
    circuits = {
        release.door: release.lock.circuit
        for actor in building.actors.values()
        for release in actor.box.releases
        if release.lock is not None and release.lock.circuit is not None
    }
    counts = Counter(circuit.source for circuit in circuits.values())
    sources = building.plant.sources
    lasts_s = {ident: 60.0 * sources[ident].lasts_min for ident in counts if ident in sources}
    return {ident: (counts[ident], end_s) for ident, end_s in lasts_s.items() if end_s < cut_s}


def _starts_after_s(building: Powered, unit: str) -> float:
    """Return how long after the mains are back a box is up: its switch has to start first."""
    port = building.plant.ports.get(unit)
    hub = building.plant.hubs.get(port.switch) if port is not None and port.set_aside_w else None
    return building.actors[unit].box.restart_s + (hub.restart_s if hub is not None else 0.0)


def _is_on_line(building: Powered, unit: str) -> bool:
    """Say whether a box is up and known to whatever it registers with: it may think so and be forgotten."""
    actor, registers = building.actors[unit], building.actors[unit].box.registers
    if registers is None or not actor.up:
        return actor.up
    desks = (one.desk for one in building.actors.values() if one.up and one.box.jack.address == registers.address)
    now_s = building.world.now_s
    return any(bool(desk.bindings_of(registers.user, now_s=now_s)) for desk in desks if desk is not None)
