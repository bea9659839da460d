"""Power over Ethernet: what the classes promise, and what a cable leaves of it."""

from dataclasses import dataclass
from functools import cache
from typing import Final

from doorwright import data
from doorwright.calc.conductor import warm_ratio
from doorwright.calc.dc import Collapse, Feed, constant_power_feed
from doorwright.kernel.calculation import calculation
from doorwright.kernel.source import Cite

CLASSES: Final = tuple(range(9))


@dataclass(frozen=True, slots=True, kw_only=True)
class PoeClass:
    """What a port gives a device of a class, and what the device may take (IEEE 802.3, Clauses 33 and 145)."""

    number: int
    type: int
    port_w: float
    device_w: float
    port_min_v: float
    pairs_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PoeType:
    """The limits of a type: the worst channel, the current of a pair-set, the voltages at both ends."""

    number: int
    channel_ohm_per_km: float
    pairset_a: float
    port_min_v: float
    port_max_v: float
    device_min_v: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PortCap:
    """The most that one port may give over four pairs."""

    most_a: float
    most_w: float


@cache
def poe_class(number: int) -> PoeClass:
    """Return the row of a class, 0 to 8.

    Raises:
        LookupError: there is no such class.
    """
    row = data.table("poe")["class"].get(str(number))
    if row is None:
        raise LookupError(f"no PoE class {number}: the classes are 0 to 8")
    return PoeClass(number=number, **row)


@cache
def poe_type(number: int) -> PoeType:
    """Return the limits of a type, 1 to 4.

    Raises:
        LookupError: there is no such type.
    """
    row = data.table("poe")["type"].get(str(number))
    if row is None:
        raise LookupError(f"no PoE type {number}: the types are 1 to 4")
    return PoeType(number=number, **row)


@cache
def port_cap() -> PortCap:
    """Return the cap of a port that feeds over four pairs (IEEE 802.3-2022, Tables 145-1 and 145-16)."""
    return PortCap(**data.table("poe")["port"])


@calculation("Resistance of the worst channel", Cite("ieee8023", "Clauses 33 and 145, channel requirements"))
def worst_channel_ohm(*, channel_ohm_per_km: float, length_m: float, pairs_count: int) -> float:
    """Return the resistance that the standard reckons with for a channel of a type.

    Formula: R = r·L for one pair-set, R = r·L/2 for both in parallel.

    Valid when: the channel is no longer than 100 m. Temperature, cords and connectors are in the figure already.

    Args:
        channel_ohm_per_km: loop resistance of one pair-set of the worst channel, ohm per kilometre.
        length_m: length of the channel, metres.
        pairs_count: pairs that carry power, 2 or 4.

    Returns:
        Resistance there and back, ohm.
    """
    return channel_ohm_per_km * length_m / 1000.0 * 2.0 / pairs_count


@calculation(
    "Resistance of a cable to powered pairs",
    Cite("ieee8023", "Clauses 33 and 145: one pair out and one back, or two and two"),
    Cite("iec60028", "temperature coefficient"),
)
def powered_pairs_ohm(
    *, conductor_ohm_per_km: float, length_m: float, pairs_count: int, temperature_c: float = 20.0
) -> float:
    """Return the resistance there and back of a real cable, its pairs in parallel.

    Formula: R = 2·r·L·(1 + 0.00393·(t - 20))/n. Each of the n pairs is two conductors side by side, half of the pairs
    lead out and half back.

    Valid when: all conductors are copper of the same size; cords, connectors and unbalance are not counted.

    Args:
        conductor_ohm_per_km: resistance of one conductor at 20 °C, ohm per kilometre.
        length_m: length of the cable, metres.
        pairs_count: pairs that carry power, 2 or 4.
        temperature_c: temperature of the conductors, degrees Celsius.

    Returns:
        Resistance there and back, ohm.
    """
    return 2.0 * conductor_ohm_per_km * length_m / 1000.0 * warm_ratio(temperature_c=temperature_c) / pairs_count


@calculation("Power at the device, from the port's side", Cite("ieee8023", "Clauses 33 and 145"), Cite("ohm1827"))
def port_feed(*, port_w: float, port_v: float, loop_ohm: float) -> Feed | Collapse:
    """Return what reaches the device when the port gives a known power.

    Formula: I = P/V, lost = I²·R, delivered = P - I²·R.

    Valid when: the port holds its voltage. Where more than half of it would be lost on the way no device holds that
    working point, and the answer is a collapse.

    Args:
        port_w: power that the port gives, watts.
        port_v: voltage of the port, volts; the class's minimum is the worst.
        loop_ohm: resistance of the powered pairs there and back, ohm.

    Returns:
        The feed, or the collapse.
    """
    current_a = port_w / port_v
    drop_v = current_a * loop_ohm
    if drop_v > port_v / 2.0:
        return Collapse(most_w=port_v * port_v / (4.0 * loop_ohm), short_a=port_v / loop_ohm)
    lost_w = current_a * drop_v
    return Feed(
        current_a=current_a,
        drop_v=drop_v,
        far_v=port_v - drop_v,
        sent_w=port_w,
        delivered_w=port_w - lost_w,
        lost_w=lost_w,
    )


@calculation("Power of the port, from the device's side", Cite("ieee8023", "Clauses 33 and 145"), Cite("ohm1827"))
def device_feed(*, port_v: float, device_w: float, loop_ohm: float) -> Feed | Collapse:
    """Return what the port must give so that the device can take a known power.

    Formula: P = V·I - I²·R, I = (V - √(V² - 4·R·P))/(2·R); a collapse where V² < 4·R·P.

    Valid when: the device is a converter that takes constant power, as nearly all are.

    Args:
        port_v: voltage of the port, volts; the class's minimum is the worst.
        device_w: power that the device takes, watts.
        loop_ohm: resistance of the powered pairs there and back, ohm.

    Returns:
        The feed, or the collapse where the load cannot be fed.
    """
    return constant_power_feed(source_v=port_v, load_w=device_w, loop_ohm=loop_ohm)


@calculation(
    "Power for the ports of a switch with diversity",
    Cite("practice", "a switch sets class power aside whole; what is asked for or drawn need not be all at once"),
)
def diverse_w(*, reserved_w: float, varying_w: float, largest_w: float, diversity_ratio: float) -> float:
    """Return the power that a switch must hold for its ports when not all that varies is drawn at once.

    Formula: P = Pr + max(d·Pv, Pmax).

    Valid when: the share d is known from counts or measurement; 1 is the worst case and needs no proof. What a switch
    sets aside by class it holds back whether it is drawn or not, so none of that varies. The largest single draw
    counts whole, because no diversity helps one unit alone.

    Args:
        reserved_w: Pr, power set aside by class, watts.
        varying_w: Pv, sum of what units ask for or draw, watts.
        largest_w: Pmax, the largest of these, watts.
        diversity_ratio: d, the share of the sum that is drawn at once at the most.

    Returns:
        Power, watts.
    """
    return reserved_w + max(diversity_ratio * varying_w, largest_w)


@calculation("Power that a switch takes with what it feeds", Cite("practice", "what is lost in conversion is heat"))
def switch_draw_w(*, own_draw_w: float, ports_w: float, efficiency_ratio: float) -> float:
    """Return what a switch takes of its supply: for itself, and for what its ports give.

    Formula: P = P0 + Pp/η.

    Valid when: the efficiency is that of the switch's own converter at that load. Adapters before it are not counted.

    Args:
        own_draw_w: P0, what it takes feeding nothing, watts.
        ports_w: Pp, what its ports give together, watts.
        efficiency_ratio: η, what the ports give of what is taken for it, above 0.

    Returns:
        Power, watts.
    """
    return own_draw_w + ports_w / efficiency_ratio
