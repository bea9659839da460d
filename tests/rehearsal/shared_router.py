"""One call to a receiver behind a router that others share, while it still knows the way, and all packets."""

from functools import cache

from doorwright.model.walk import Walk
from doorwright.rehearse.actors import Mood
from doorwright.rehearse.building import Building
from doorwright.rehearse.faults import with_faults
from doorwright.rehearse.ladder import Happened, Ladder, ladder_of
from doorwright.rehearse.planned import planned
from doorwright.rehearse.rehearsal import outcome_of
from doorwright.rehearse.wire import Carried
from doorwright.rehearse.world import World
from tests.rehearsal.wired_yard import WIRED_YARD

INSIDE, OUTSIDE = "198.51.100.1", "192.0.2.1"
"""The addresses of the router (tests/rehearsal/yard.py): in the subnet of the homes, and in that of the doors."""
GATE, RECEIVER_3 = "192.0.2.10", "198.51.100.13"
ROUTER = "the router of 198.51.100.0/24"


@cache
def call_behind_it() -> tuple[Ladder, tuple[Carried, ...]]:
    """Return the ladder and the packets of a call from the gate to home 03 that is taken, a minute after power came."""
    walk = Walk(WIRED_YARD)
    plan = with_faults(planned(walk), (("router-forgets", "uru-3"),), chance=World(seed=2).chance("faults"))[0]
    building = Building(plan.boxes.values(), plan.nets, plant=plan.plant, seed=2)
    for actor in building.actors.values():
        actor.begin()
    building.world.run_until(60.0)
    happened: list[Happened] = []
    building.wire.heard = building.journal.told = happened.append
    assert outcome_of(building.visit("vcu-gate", "03", minute=420, moods={"uru-3": Mood.ANSWERS})).took == "uru-3"
    boxes = {ident: actor.box for ident, actor in building.actors.items()}
    return ladder_of(walk, boxes, happened), tuple(one for one in happened if isinstance(one, Carried))
