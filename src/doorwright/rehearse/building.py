"""The rehearsed building: every box of the plan, live on one wire and one clock."""

from collections.abc import Collection, Iterable, Mapping
from typing import Final

from doorwright.rehearse.actors import Actor, Mood, Stage
from doorwright.rehearse.box import Box, Role
from doorwright.rehearse.journal import Entry, Journal, Told
from doorwright.rehearse.wire import Heard, Net, Wire
from doorwright.rehearse.world import World

SETTLE_S: Final = 300.0
"""How long a building is given to come up before anybody calls (units look for their registrar for minutes)."""
_BEGIN_WITHIN_S: Final = 20.0
_VISIT_AT_MOST_S: Final = 7200.0


class Building:
    """All actors, and what a script does with them."""

    def __init__(
        self,
        boxes: Iterable[Box],
        nets: Iterable[Net],
        *,
        seed: int = 0,
        delay_s: float = 0.001,
        loss_ratio: float = 0.0,
        told: Told | None = None,
        heard: Heard | None = None,
    ) -> None:
        """Build it; nothing is on yet.

        Args:
            boxes: what is entered in each.
            nets: the subnets that the gateways know.
            seed: out of which all chance comes.
            delay_s: on the wire.
            loss_ratio: of packets lost on the wire.
            told: is told of all that happens.
            heard: is told of every packet.
        """
        self.world = World(seed=seed)
        self.wire = Wire(
            self.world, nets=nets, chance=self.world.chance("wire"), delay_s=delay_s, loss_ratio=loss_ratio
        )
        self.wire.heard = heard
        self.journal = Journal(told)
        self._stage = Stage(self.world, self.wire, self.journal, relay_answers=self._relay_answers)
        self.actors = {box.id: Actor(box, self._stage) for box in boxes}
        for actor in self.actors.values():
            self.wire.plug(actor.box.jack, actor)

    def power_up(self) -> None:
        """Switch everything on, in any order, and let it settle."""
        chance = self.world.chance("power")
        for actor in self.actors.values():
            late_s = 0.0 if actor.box.admits else 1.0
            self.world.at(late_s + chance.random() * _BEGIN_WITHIN_S, actor.begin)
        self.world.run_until(self.world.now_s + SETTLE_S)
        self.journal.empty()

    def visit(
        self, unit: str, number: str, *, minute: int, moods: Mapping[str, Mood], lapsed: Collection[str] = ()
    ) -> list[Entry]:
        """Let somebody call a number at a call unit, and return what happened.

        Args:
            unit: the call unit.
            number: what they call.
            minute: of the axis of the week: what the clock on the wall shows.
            moods: what whoever is at each receiver does; those not named let it ring.
            lapsed: units whose registration has run out, as after a power cut.
        """
        self._stage.minute = minute
        self._stage.lapsed = frozenset(self.actors[ident].box.user for ident in lapsed)
        for ident, mood in moods.items():
            self.actors[ident].mood = mood
        visitor = self.actors[unit].visit(number)
        until_s = self.world.now_s + _VISIT_AT_MOST_S
        if not self.world.run_until(until_s, done=lambda: visitor.gone):
            visitor.leave()
        self.world.run_until(self.world.now_s + 1.0)
        for ident in moods:
            self.actors[ident].mood = Mood.LETS_RING
        return self.journal.empty()

    def reaches(self, one: str, other: str) -> bool:
        """Say whether an echo from one box to the address that another should have comes back."""
        return self.wire.reaches(self.actors[one].box.jack, self.actors[other].box.jack.address)

    def units(self) -> tuple[Actor, ...]:
        """Return the actors that are units."""
        return tuple(actor for actor in self.actors.values() if actor.box.role is not Role.SERVER)

    def _relay_answers(self, box: Box, unit: str) -> bool:
        other = self.actors.get(unit)
        return other is not None and self.wire.reaches(box.jack, other.box.jack.address)
