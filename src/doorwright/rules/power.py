"""Power: enough of it reaches every unit and every lock, and no switch or supply promises more than it has."""

from typing import Final

from doorwright.calc import poe
from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity
from doorwright.model.door import Door
from doorwright.model.naming import named
from doorwright.model.network import CableRun, Switch
from doorwright.model.power import Supply
from doorwright.model.unit import Unit
from doorwright.rules.example import as_it_is, put, put_profile
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Said, lacks, rule
from doorwright.rules.saying import answered
from doorwright.studies.lock_voltage import LockVoltage, lock_voltage
from doorwright.studies.poe_at_unit import PoeAtUnit, poe_at_unit
from doorwright.studies.supply_load import SupplyLoad, supply_load
from doorwright.studies.switch_power import SwitchPower, switch_power

PLANNING: Final = (Phase.PLANNING, Phase.COMMISSIONING, Phase.OPERATION)
NOTHING: Final = 1e-9
"""Sums of tenths are not exact: ten times 15.4 W is to fit into 154 W."""
CLAUSES: Final = Cite("ieee8023", "Clauses 33 and 145")


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(CLAUSES, Cite("iec60228"), Cite("tia568")),
    finds=Example("The cable to the desk is 2500 m long.", put(CableRun, "run-smu-desk", length_m=2500.0)),
    passes=Example("It is 90 m long.", put(CableRun, "run-smu-desk", length_m=90.0)),
)
def too_little_power_at_unit(facts: Facts, unit: Unit) -> Said:
    """A unit gets less power than it draws.

    Why it matters: it restarts when its lamps or heater come on, mostly at night and in winter.
    What to do: shorten the run, use thicker conductors, or put a switch nearer.
    """

    def wrong(power: PoeAtUnit) -> str | None:
        if power.enough:
            return None
        return (
            f"{named(facts.walk, unit)} draws {power.draw_w:.1f} W; {power.available_w:.1f} W arrive of PoE class"
            f" {power.poe_class} over {power.length_m:.0f} m"
        )

    yield from answered(poe_at_unit(facts.walk, unit), wrong)


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=(Phase.PLANNING,),
    cites=(CLAUSES,),
    finds=Example("The desk's type is said to draw 30 W in class 4.", put_profile("smu-desk", poe_draw_w=30.0)),
    passes=Example("It is said to draw 25.5 W.", put_profile("smu-desk", poe_draw_w=25.5)),
)
def draw_above_class(facts: Facts, unit: Unit) -> Said:
    """A unit draws more than its PoE class allows.

    Why it matters: one of the two figures is wrong; with either the budget of the switch is wrong too. A port turns off
    a unit that takes more than its class.
    What to do: read the data sheet again and correct the profile.
    """
    profile = facts.walk.profile(unit.profile)
    if profile is None or profile.poe_draw_w is None or profile.poe_class is None:
        return
    if profile.poe_class not in poe.CLASSES:
        yield Found(
            f"{named(facts.walk, unit)}: its profile says PoE class {profile.poe_class}; the classes are 0 to 8"
        )
        return
    most_w = poe.poe_class(profile.poe_class).device_w
    if profile.poe_draw_w <= most_w:
        yield HOLDS
    else:
        yield Found(
            f"{named(facts.walk, unit)} draws {profile.poe_draw_w:.1f} W,"
            f" PoE class {profile.poe_class} allows {most_w:.2f} W"
        )


@rule(
    over=Switch,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(CLAUSES, Cite("practice", "a switch sets aside the power of each port's class")),
    finds=Example("The riser's switch has a budget of 150 W.", put_profile("switch-16", poe_budget_w=150.0)),
    passes=Example("It has a budget of 160 W.", put_profile("switch-16", poe_budget_w=160.0)),
)
def poe_budget_exceeded(facts: Facts, switch: Switch) -> Said:
    """A switch must feed more than its PoE budget.

    Why it matters: after a power cut the switch gives power until the budget is spent; the last units stay dark, and
    which they are differs from time to time.
    What to do: move units to another switch, or choose one with a larger budget.
    """

    def wrong(power: SwitchPower) -> str | None:
        if power.allocated_w - power.budget_w <= NOTHING:
            return None
        return (
            f"{named(facts.walk, switch)}: {power.fed_count} units need {power.allocated_w:.1f} W by their classes, the"
            f" budget is {power.budget_w:.1f} W"
        )

    yield from answered(switch_power(facts.walk, switch), wrong)


@rule(
    over=Switch,
    severity=Severity.WARNING,
    phases=(Phase.PLANNING,),
    cites=(Cite("practice", "20 % spare ports and 20 % spare PoE budget"),),
    finds=Example("The riser's switch has a budget of 160 W.", put_profile("switch-16", poe_budget_w=160.0)),
    passes=Example("It has a budget of 190 W.", put_profile("switch-16", poe_budget_w=190.0)),
)
def little_spare_power(facts: Facts, switch: Switch) -> Said:
    """A switch keeps less of its PoE budget spare than the site asks for.

    Why it matters: the next unit, or the next type with a larger camera, needs another switch.
    What to do: spread the units, or choose a larger switch.
    """
    wanted_ratio = facts.walk.settings().choices.spare_ratio

    def wrong(power: SwitchPower) -> str | None:
        # a budget that is exceeded is told by poe-budget-exceeded
        if not power.allocated_w or not -NOTHING < power.power_spare_ratio < wanted_ratio - NOTHING:
            return None
        return (
            f"{named(facts.walk, switch)}: {power.power_spare_ratio:.0%} of {power.budget_w:.1f} W is spare, wanted"
            f" {wanted_ratio:.0%}"
        )

    yield from answered(switch_power(facts.walk, switch), wrong)


@rule(
    over=Switch,
    severity=Severity.WARNING,
    phases=(Phase.PLANNING,),
    cites=(Cite("practice", "20 % spare ports and 20 % spare PoE budget"),),
    finds=Example("The riser's switch has eight ports for units.", put_profile("switch-16", ports_count=10)),
    passes=Example("It has nine.", put_profile("switch-16", ports_count=11)),
)
def few_spare_ports(facts: Facts, switch: Switch) -> Said:
    """A switch keeps fewer ports spare than the site asks for.

    Why it matters: a port fails sooner or later, and units are added. Without a spare one the riser is rebuilt.
    What to do: spread the units, or choose a larger switch.
    """
    wanted_ratio = facts.walk.settings().choices.spare_ratio

    def wrong(power: SwitchPower) -> str | None:
        if not power.ports_used_count or power.ports_spare_ratio >= wanted_ratio - NOTHING:
            return None
        return (
            f"{named(facts.walk, switch)}: {power.ports_count - power.ports_used_count} of {power.ports_count} ports"
            f" for units are spare ({power.ports_spare_ratio:.0%}), wanted {wanted_ratio:.0%}"
        )

    yield from answered(switch_power(facts.walk, switch), wrong)


@rule(
    over=Door,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("iec60228"), Cite("practice", "a lock circuit is sized at the voltage at the lock, cable warm")),
    finds=Example("The run to the main door is 800 m long.", put(CableRun, "run-door-main", length_m=800.0)),
    passes=Example("It is 40 m long.", put(CableRun, "run-door-main", length_m=40.0)),
)
def lock_voltage_too_low(facts: Facts, door: Door) -> Said:
    """A lock gets less voltage than its maker asks for.

    Why it matters: a strike clicks but holds, a magnet holds weakly. Standby batteries give less still.
    What to do: use thicker conductors, a shorter run, or a supply nearer to the door. Measure on site under load.
    """

    def wrong(circuit: LockVoltage) -> str | None:
        if circuit.enough:
            return None
        return (
            f"{named(facts.walk, door)}: {circuit.lock_v:.1f} V at the lock of {circuit.supply_v:.1f} V, its maker asks"
            f" for {circuit.minimum_v:.1f} V; the cable takes {circuit.drop_v:.1f} V at {circuit.lock_a:.2f} A over"
            f" {circuit.length_m:.0f} m"
        )

    yield from answered(lock_voltage(facts.walk, door), wrong)


@rule(
    over=Door,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "a lock is rated for the voltage of its supply"),),
    finds=Example(
        "The lock of the main door is rated for 12 V; its supply gives 24 V.", put(Door, "door-main", lock_rated_v=12.0)
    ),
    passes=Example("It is rated for 24 V.", as_it_is),
)
def lock_of_other_voltage(facts: Facts, door: Door) -> Said:
    """A lock is rated for another voltage than its supply gives.

    Why it matters: too much burns the coil out, sooner in a lock that takes current all the time; too little lets it
    hang.
    What to do: choose the supply for the lock, or the lock for the supply.
    """
    walk = facts.walk
    supplies = [supply for run in walk.runs_to(door.id) if (supply := walk.find(Supply, run.near)) is not None]
    if not supplies:
        return
    if door.lock_rated_v is None:
        yield lacks(door, "lock rated voltage")
        return
    for supply in sorted(supplies, key=lambda supply: supply.id):
        profile = walk.profile(supply.profile)
        if profile is None or profile.output_v is None:
            yield lacks(supply, "profile")
        # makers commonly allow a tenth either way
        elif abs(profile.output_v - door.lock_rated_v) <= 0.1 * door.lock_rated_v:
            yield HOLDS
        else:
            yield Found(
                f"{named(walk, door)}: the lock is rated for {door.lock_rated_v:.1f} V,"
                f" {named(walk, supply)} gives {profile.output_v:.1f} V",
                (supply,),
            )


@rule(
    over=Supply,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "all locks of a supply at once"),),
    finds=Example("The lock supply gives 0.5 A.", put_profile("supply-24v-5a", output_a=0.5)),
    passes=Example("It gives 2 A.", put_profile("supply-24v-5a", output_a=2.0)),
)
def supply_overloaded(facts: Facts, supply: Supply) -> Said:
    """The locks of a supply take more current than it gives.

    Why it matters: with every lock energised at once the supply limits or turns off; doors stay locked or come free.
    What to do: share the locks between supplies, or choose a larger one.
    """

    def wrong(load: SupplyLoad) -> str | None:
        if load.load_a - load.output_a <= NOTHING:
            return None
        return (
            f"{named(facts.walk, supply)}: {load.locks_count} locks take {load.load_a:.2f} A at once, it gives"
            f" {load.output_a:.2f} A"
        )

    yield from answered(supply_load(facts.walk, supply), wrong)
