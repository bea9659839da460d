"""A cable between a switch and what it feeds: its pairs, the link that they carry, what they lose, the power let by.

Ethernet needs two sound pairs for 10 and 100 Mb/s and four for 1000 (IEEE 802.3 clauses 14, 25 and 40); the power of
the smaller classes goes over the same two (clause 33, alternative A). A poor contact passes a slow link, with errors,
and puts its resistance into the way of the power. How poor it may be for which rate is our own choice.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import inf, isinf
from typing import Final

from doorwright.calc.dc import Feed
from doorwright.calc.poe import device_feed, poe_class, poe_type

DATA_PAIRS_COUNT: Final = 2
"""Pairs that carry 10 and 100 Mb/s, and the power of two pairs."""
SOUND_OHM: Final = 2.0
"""A contact worse than this is poor: links slow down over it and lose packets (our own choice)."""
LOST_RATIO: Final = 0.04
"""The share of packets that a link over a poor contact loses (our own choice)."""
SOUND: Final = (0.0, 0.0, 0.0, 0.0)
"""The contacts of the four pairs, ohm: 1-2, 3-6, 4-5, 7-8 by their pins."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """What a unit takes over its cable: its PoE class, its draw by day and with its lamps on, the cable's own loop."""

    poe_class: int
    day_w: float
    night_w: float
    loop_ohm: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Link:
    """What the pairs of a cable carry: rate, 0 for no link, and the share of packets lost."""

    mbps: float
    lost_ratio: float


@lru_cache(maxsize=4096)
def link_over(contacts_ohm: tuple[float, ...], planned_mbps: float) -> Link:
    """Return the link over four pairs.

    Args:
        contacts_ohm: what the contacts of each pair put into it, ohm; infinite for one that is open.
        planned_mbps: the rate that both ends are made for, megabits per second.
    """
    data = contacts_ohm[:DATA_PAIRS_COUNT]
    if any(map(isinf, data)):
        return Link(mbps=0.0, lost_ratio=0.0)
    rate_mbps = min(planned_mbps, 100.0) if any(ohm > SOUND_OHM for ohm in contacts_ohm) else planned_mbps
    if not any(ohm > SOUND_OHM for ohm in data):
        return Link(mbps=rate_mbps, lost_ratio=0.0)
    return Link(mbps=min(rate_mbps, 100.0 if planned_mbps > 100.0 else 10.0), lost_ratio=LOST_RATIO)


@lru_cache(maxsize=4096)
def carries(draw: Draw, contacts_ohm: tuple[float, ...], *, night: bool) -> bool:
    """Say whether a unit gets its power: at the least voltage of a port, without falling below its own least.

    Args:
        draw: what the unit takes.
        contacts_ohm: as for ``link_over``; they lie in the way of the power there and back.
        night: whether its lamps are on.
    """
    row = poe_class(draw.poe_class)
    extra_ohm = max(contacts_ohm[:DATA_PAIRS_COUNT]) * DATA_PAIRS_COUNT / row.pairs_count
    if extra_ohm == inf:
        return False
    if extra_ohm == 0.0:
        return True  # a sound cable is judged by the rules: a port gives more than the least that its class promises
    return _holds(draw, extra_ohm, draw.night_w if night else draw.day_w)


def _holds(draw: Draw, extra_ohm: float, power_w: float) -> bool:
    row = poe_class(draw.poe_class)
    fed = device_feed(port_v=row.port_min_v, device_w=power_w, loop_ohm=draw.loop_ohm + extra_ohm)
    return isinstance(fed, Feed) and fed.far_v >= poe_type(row.type).device_min_v


def most_ohm(draw: Draw, power_w: float) -> float:
    """Return the most that contacts may put into the way of a power, ohm.

    At the least voltage of the device, V, the current is P/V, and the loop may take what is left of the port's.
    """
    row = poe_class(draw.poe_class)
    least_v = poe_type(row.type).device_min_v
    return (row.port_min_v - least_v) * least_v / power_w - draw.loop_ohm
