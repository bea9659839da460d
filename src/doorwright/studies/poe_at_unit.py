"""Does enough power over Ethernet reach a unit?"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from doorwright.calc import poe
from doorwright.calc.cable import CableUse
from doorwright.calc.dc import Collapse, Feed
from doorwright.kernel.verdict import Missing
from doorwright.model.network import CableRun, Switch
from doorwright.model.profile import Profile
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.studies.run import feeding_run, line_of
from doorwright.studies.study import Step, Study, Trail

TITLE: Final = "Power over Ethernet at the unit"
PROFILE: Final = "profile"


@dataclass(frozen=True, slots=True, kw_only=True)
class PoeAtUnit:
    """What the cable leaves of a port's power.

    ``promised`` is what arrives when the port gives just the power of the class; ``drawn`` is what flows when the
    unit takes the draw of its data sheet. Both at the least voltage that a port of the class may have.
    """

    poe_class: int
    draw_w: float
    class_w: float
    port_v: float
    device_min_v: float
    length_m: float
    temperature_c: float
    loop_ohm: float
    promised: Feed | Collapse
    drawn: Feed | Collapse

    @property
    def available_w(self) -> float:
        """The most that the unit can draw while the port gives no more than the power of the class, watts."""
        return self.promised.delivered_w if isinstance(self.promised, Feed) else self.promised.most_w

    @property
    def port_w(self) -> float | None:
        """What the port must give for the unit's draw, watts; None where the draw cannot be fed."""
        return self.drawn.sent_w if isinstance(self.drawn, Feed) else None

    @property
    def device_v(self) -> float | None:
        """The voltage at the unit under its draw, volts; None where the draw cannot be fed."""
        return self.drawn.far_v if isinstance(self.drawn, Feed) else None

    @property
    def current_a(self) -> float | None:
        """The current under the unit's draw, amperes; None where the draw cannot be fed."""
        return self.drawn.current_a if isinstance(self.drawn, Feed) else None

    @property
    def lost_w(self) -> float | None:
        """The power that warms the cable, watts; None where the draw cannot be fed."""
        return self.drawn.lost_w if isinstance(self.drawn, Feed) else None

    @property
    def enough(self) -> bool:
        """Whether the unit gets its draw from a port that gives just the power of the class."""
        return isinstance(self.drawn, Feed) and self.draw_w <= self.available_w


def poe_at_unit(walk: Walk, unit: Unit) -> Study[PoeAtUnit]:
    """Study the power that reaches a unit over the run from its switch.

    The question does not arise for a unit whose profile has neither a PoE class nor a draw.
    """
    profile = walk.profile(unit.profile)
    if profile is not None and profile.poe_class is None and profile.poe_draw_w is None:
        return Study(unit.subject, TITLE)
    missing = missing_of_profile(unit, profile)
    run = feeding_run(walk, unit.id, Switch)
    if run is None:
        return Study(unit.subject, TITLE, missing=(*missing, Missing(CableRun.KIND, "run to the unit")))
    line = line_of(walk, run, CableUse.DATA)
    if isinstance(line, tuple):
        return Study(unit.subject, TITLE, missing=(*missing, *line))
    if missing or profile is None or profile.poe_class is None or profile.poe_draw_w is None:
        return Study(unit.subject, TITLE, missing=missing)
    value, steps = _fed(
        profile.poe_class, profile.poe_draw_w, line.cable.conductor_ohm_per_km, line.length_m, line.temperature_c
    )
    return Study(unit.subject, TITLE, value, steps=steps)


def missing_of_profile(part: Unit | Switch, profile: Profile | None) -> tuple[Missing, ...]:
    """Return what the profile of a fed part does not say about its power."""
    if profile is None:
        return (Missing(part.KIND, PROFILE),)
    lacking = {
        "PoE class": profile.poe_class is None or profile.poe_class not in poe.CLASSES,
        "PoE draw": profile.poe_draw_w is None,
    }
    return tuple(Missing(PROFILE, name) for name, lacks in lacking.items() if lacks)


# A building has thousands of units but few lengths and kinds of cable: each case is worked out once.
@lru_cache(maxsize=16384)
def _fed(
    poe_class: int, draw_w: float, conductor_ohm_per_km: float, length_m: float, temperature_c: float
) -> tuple[PoeAtUnit, tuple[Step, ...]]:
    row = poe.poe_class(poe_class)
    trail = Trail()
    loop_ohm = trail.run(
        poe.powered_pairs_ohm,
        conductor_ohm_per_km=conductor_ohm_per_km,
        length_m=length_m,
        pairs_count=row.pairs_count,
        temperature_c=temperature_c,
    )
    promised = trail.run(poe.port_feed, port_w=row.port_w, port_v=row.port_min_v, loop_ohm=loop_ohm)
    drawn = trail.run(poe.device_feed, port_v=row.port_min_v, device_w=draw_w, loop_ohm=loop_ohm)
    value = PoeAtUnit(
        poe_class=poe_class,
        draw_w=draw_w,
        class_w=row.device_w,
        port_v=row.port_min_v,
        device_min_v=poe.poe_type(row.type).device_min_v,
        length_m=length_m,
        temperature_c=temperature_c,
        loop_ohm=loop_ohm,
        promised=promised,
        drawn=drawn,
    )
    return value, trail.steps
