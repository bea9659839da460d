"""The rehearsed building: every box of the plan, live on one wire and one clock."""

from collections.abc import Collection, Iterable, Mapping
from functools import partial
from typing import Final

from doorwright.rehearse.actors import Actor, Mood, Stage
from doorwright.rehearse.box import PICTURE_PORT, Box, Role
from doorwright.rehearse.journal import Entry, Journal, Told
from doorwright.rehearse.middlebox import SharedRouter
from doorwright.rehearse.outage import REGISTERED_FOR_S, Outage, night, power_cut
from doorwright.rehearse.picture import lost_whole
from doorwright.rehearse.plant import Plant, Uplink
from doorwright.rehearse.power import fed
from doorwright.rehearse.wire import Heard, Jack, Net, Wire
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
        plant: Plant | None = None,
        power_cut_min: float | None = None,
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
            plant: what carries and powers the boxes; without it everything has power and a sound link.
            power_cut_min: for how long the mains fail once it has come up; None for not at all.
            seed: out of which all chance comes.
            delay_s: on the wire.
            loss_ratio: of packets lost on the wire.
            told: is told of all that happens.
            heard: is told of every packet.
        """
        self.world = World(seed=seed)
        self.plant = plant or Plant()
        self.power_cut_min = power_cut_min
        self.restarts: Mapping[str, int] = {}
        self.outage: Outage | None = None
        known_nets = tuple(nets)
        self.wire = Wire(
            self.world, nets=known_nets, chance=self.world.chance("wire"), delay_s=delay_s, loss_ratio=loss_ratio
        )
        self.wire.heard = heard
        self.journal = Journal(told)
        self._stage = Stage(self.world, self.wire, self.journal, relay_answers=self._relay_answers)
        self.actors = {box.id: Actor(box, self._stage) for box in fed(self.plant, boxes)}
        for actor in self.actors.values():
            self.wire.plug(actor.box.jack, actor)
        self._put_routers(known_nets)
        full = [uplink for uplink in self.plant.uplinks.values() if uplink.is_full]
        if full:
            self.wire.lost_on = partial(self._lost_on, full)

    def power_up(self) -> None:
        """Switch everything on, in any order, and let it settle."""
        chance = self.world.chance("power")
        for actor in self.actors.values():
            late_s = 0.0 if actor.box.admits else 1.0
            self.world.at(late_s + chance.random() * _BEGIN_WITHIN_S, actor.begin)
        self.world.run_until(self.world.now_s + SETTLE_S)
        self.journal.empty()

    def switch_off(self, unit: str) -> None:
        """Take the power from a box."""
        actor = self.actors[unit]
        actor.switch_off()
        self.wire.unplug(actor.box.jack, actor)

    def switch_on(self, unit: str) -> None:
        """Give power to a box again; it has started already."""
        actor = self.actors[unit]
        if not actor.up:
            self.wire.plug(actor.box.jack, actor)
            actor.switch_on()

    def come_up(self) -> None:
        """Switch everything on; then let a night go by, and the mains fail if they are to."""
        if self.power_cut_min is not None:
            self.ask_for(REGISTERED_FOR_S)
        self.power_up()
        self.restarts = night(self)
        if self.power_cut_min is not None:
            self.outage = power_cut(self, self.power_cut_min)
        self.journal.empty()

    def ask_for(self, asked_s: int) -> None:
        """Have units ask from now on to be registered for so many seconds."""
        self._stage.asked_s = asked_s

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

    def _put_routers(self, nets: tuple[Net, ...]) -> None:
        for net in nets:
            outer = next((one for one in nets if one.cidr == net.outside), None)
            if net.flaw is not None and outer is not None and outer.gateway is not None:
                inside, outside = _face(net, net), _face(net, outer)
                router = SharedRouter(net, inside, outside, self.world, self.wire)
                self.wire.passages.append(router)
                self.wire.plug(outside, router)

    def _lost_on(self, full: list[Uplink], jack: Jack, taker: Jack, port: int) -> float:
        """Return the share of pictures that find no room: switches let calls and speech go first (RFC 4594)."""
        if port != PICTURE_PORT:
            return 0.0
        units = self._unit_at(jack), self._unit_at(taker)
        kept = 1.0
        for uplink in full:
            sends, takes = (unit in uplink.beyond for unit in units)
            if sends is not takes:
                kept *= 1.0 - uplink.lost_ratio(down=takes)
        return lost_whole(1.0 - kept)

    def _unit_at(self, jack: Jack) -> str:
        return next((actor.box.id for actor in self.actors.values() if actor.box.jack is jack), "")


def _face(net: Net, side: Net) -> Jack:
    """Return how the shared router of a subnet hangs on one of the two subnets between which it stands."""
    gateway = side.gateway or ""
    return Jack(
        address=gateway, cidr=side.cidr, gateway=gateway, segment=side.segment, mac=f"of the router of {net.cidr}"
    )
