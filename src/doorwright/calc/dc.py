"""A source, a two-wire line, and a load that takes a constant current or a constant power."""

from dataclasses import dataclass
from math import sqrt

from doorwright.kernel.calculation import calculation
from doorwright.kernel.source import Cite


@dataclass(frozen=True, slots=True, kw_only=True)
class Feed:
    """What flows over a line that carries its load. Energy is kept: ``sent_w`` = ``delivered_w`` + ``lost_w``."""

    current_a: float
    drop_v: float
    far_v: float
    sent_w: float
    delivered_w: float
    lost_w: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Collapse:
    """The line cannot carry the load: what the load asks for would pull the voltage down to nothing.

    ``most_w`` is the most power that any load can draw through the line, ``short_a`` the current into a dead short.
    """

    most_w: float
    short_a: float


@calculation("Feed of a load of constant current", Cite("ohm1827"), Cite("nec-ch9", "worked examples of voltage drop"))
def constant_current_feed(*, source_v: float, load_a: float, loop_ohm: float) -> Feed | Collapse:
    """Return what arrives at a load that takes a fixed current, such as a lock coil near its rated voltage.

    Formula: drop = I·R, far = V - drop, lost = I²·R; a collapse where the drop exceeds V.

    Valid when: steady direct current. A real coil takes less as its voltage sinks, so the drop errs on the safe side.

    Args:
        source_v: voltage at the feeding end, volts.
        load_a: current of the load, amperes.
        loop_ohm: resistance of the line there and back, ohm.

    Returns:
        The feed, or the collapse where the line cannot carry the current.
    """
    drop_v = load_a * loop_ohm
    if drop_v > source_v:
        return _collapse(source_v, loop_ohm)
    return _feed(source_v, load_a, loop_ohm)


@calculation("Feed of a load of constant power", Cite("ohm1827", "source, series resistance, constant power"))
def constant_power_feed(*, source_v: float, load_w: float, loop_ohm: float) -> Feed | Collapse:
    """Return what flows to a load that takes a fixed power whatever its voltage, such as a switching converter.

    Formula: P = V·I - I²·R, I = (V - √(V² - 4·R·P))/(2·R), the smaller of both currents; a collapse where V² < 4·R·P.

    Valid when: steady direct current. The larger root is a working point that no converter holds.

    Args:
        source_v: voltage at the feeding end, volts.
        load_w: power that the load takes, watts.
        loop_ohm: resistance of the line there and back, ohm.

    Returns:
        The feed, or the collapse where no current satisfies the equation.
    """
    discriminant = source_v * source_v - 4.0 * loop_ohm * load_w
    if discriminant < 0.0:
        return _collapse(source_v, loop_ohm)
    # 2P/(V + √D) is the same root as (V - √D)/(2R), without the cancellation and without dividing by R = 0.
    current_a = 2.0 * load_w / (source_v + sqrt(discriminant))
    return _feed(source_v, current_a, loop_ohm)


def _feed(source_v: float, current_a: float, loop_ohm: float) -> Feed:
    drop_v = current_a * loop_ohm
    far_v = source_v - drop_v
    return Feed(
        current_a=current_a,
        drop_v=drop_v,
        far_v=far_v,
        sent_w=source_v * current_a,
        delivered_w=far_v * current_a,
        lost_w=drop_v * current_a,
    )


def _collapse(source_v: float, loop_ohm: float) -> Collapse:
    return Collapse(most_w=source_v * source_v / (4.0 * loop_ohm), short_a=source_v / loop_ohm)
