"""What was found and belonged to no part of the plan when it was seen; the plan may know it by now."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from doorwright.kernel.observation import Observation, Seen
from doorwright.model.aspect import SITE_SUBJECT, Aspect, port_text, stranger_of
from doorwright.model.network import CableRun, Switch
from doorwright.model.part import Part
from doorwright.model.walk import Walk

FIND_IT: Final = "find it, and enter it in the plan or take it off the network"


@dataclass(frozen=True, slots=True)
class Stranger:
    """Something found: by what it is known, that value, what else was seen of it, whether the plan knows it now."""

    by: Aspect
    identity: str
    seen: Observation
    known_now: bool


def strangers(walk: Walk, seen: Seen) -> Iterator[Stranger]:
    """Yield what was found and belonged to no part of the plan."""
    for aspect, observation in seen.get(SITE_SUBJECT, {}).items():
        known_by = stranger_of(aspect)
        if known_by is not None:
            by, identity = known_by
            known_now = any(True for _ in _holders(walk, by, identity))
            yield Stranger(by, identity, observation, known_now)


def _holders(walk: Walk, by: Aspect, identity: str) -> Iterator[Part]:
    """Yield the parts of the plan that have this value."""
    match by:
        case Aspect.SERIAL:
            yield from walk.holders_of_serial(identity)
        case Aspect.MAC:
            yield from walk.holders_of_mac(identity)
        case Aspect.ADDRESS:
            yield from walk.holders_of_address(identity)
        case Aspect.NAME:
            yield from walk.units_named(identity)
            yield from (one for one in walk.all(Switch) if one.name.casefold() == identity.casefold())
        case Aspect.PORT:
            for run in walk.all(CableRun):
                switch = walk.find(Switch, run.near)
                if switch and run.near_port is not None and port_text(switch.name, run.near_port) == identity:
                    yield run
