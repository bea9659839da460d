"""Power: enough of it reaches every unit and every lock, and no switch or supply promises more than it has."""

from typing import Final

from doorwright.calc import poe
from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Missing, Phase, Severity
from doorwright.kernel.words import counted
from doorwright.model.door import Door
from doorwright.model.naming import named
from doorwright.model.network import CableRun, Switch
from doorwright.model.power import Supply
from doorwright.model.unit import Unit
from doorwright.rules.example import as_it_is, put, put_profile
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Lacks, Said, lacks, rule
from doorwright.rules.saying import answered, some
from doorwright.studies.dc_branch import supplies_of
from doorwright.studies.lock_voltage import LockVoltage, lock_voltage
from doorwright.studies.poe_at_unit import PoeAtUnit, poe_at_unit
from doorwright.studies.supply_load import SupplyLoad, supply_load
from doorwright.studies.switch_power import SwitchPower, switch_power

PLANNING: Final = (Phase.PLANNING, Phase.COMMISSIONING, Phase.OPERATION)
NOTHING: Final = 1e-9
"""Sums of tenths are not exact: ten times 15.4 W is to fit into 154 W."""
BUNDLE_MOST_COUNT: Final = 24
"""Cables in one bundle. Common practice."""
POWERED_PAIRS_COUNT: Final = 2
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

    yield from answered(facts.walk.once(poe_at_unit, unit), wrong)


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
    What to do: move units to another switch, or choose one with a larger budget. A diversity below 1 in the site's
    settings counts for units that ask for their power alone; never choose it to make a plan fit.
    """

    def wrong(power: SwitchPower) -> str | None:
        if power.needed_w - power.budget_w <= NOTHING:
            return None
        how = f", {power.lldp_count} of them by what they ask for" if power.lldp_count else ""
        less = power.allocated_w - power.needed_w > NOTHING
        taken = f" (taken: {power.diversity_ratio:.0%} of that at once)" if less else ""
        return (
            f"{named(facts.walk, switch)}: {power.fed_count} units need {power.needed_w:.1f} W by their"
            f" classes{how}{taken}, the budget is {power.budget_w:.1f} W"
        )

    yield from answered(facts.walk.once(switch_power, switch), wrong)


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
        if not power.needed_w or not -NOTHING < power.power_spare_ratio < wanted_ratio - NOTHING:
            return None
        return (
            f"{named(facts.walk, switch)}: {power.power_spare_ratio:.0%} of {power.budget_w:.1f} W is spare, wanted"
            f" {wanted_ratio:.0%}"
        )

    yield from answered(facts.walk.once(switch_power, switch), wrong)


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

    yield from answered(facts.walk.once(switch_power, switch), wrong)


@rule(
    over=Switch,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(CLAUSES, Cite("practice", "the data sheet of a switch says what one port gives")),
    finds=Example("A port of the riser's switch gives 15.4 W.", put_profile("switch-16", poe_port_w=15.4)),
    passes=Example("It gives 30 W.", put_profile("switch-16", poe_port_w=30.0)),
)
def port_gives_too_little(facts: Facts, switch: Switch) -> Said:
    """A port of a switch gives less power than a unit on it needs.

    Why it matters: the switch refuses the unit or cuts it off under load, however large its budget is. Classes above 4
    need a port that feeds over four pairs.
    What to do: choose a switch whose ports give enough, or another unit.
    """
    study = facts.walk.once(switch_power, switch)
    power = study.value
    if power is not None and power.fed_count and power.port_w is None:
        yield Lacks((Missing("profile", "PoE power of a port"),))
        return

    def wrong(power: SwitchPower) -> str | None:
        most_w = power.port_w if power.port_w is not None else 0.0
        short = {ident: needed_w for ident, needed_w in power.ports_w.items() if needed_w - most_w > NOTHING}
        if not short:
            return None
        names = some(
            f"{named(facts.walk, part)} needs {needed_w:.1f} W"
            for ident, needed_w in short.items()
            if (part := facts.walk.part(ident)) is not None
        )
        return f"{named(facts.walk, switch)}: one port gives {most_w:.1f} W; {names}"

    yield from answered(study, wrong)


@rule(
    over=CableRun,
    severity=Severity.NOTE,
    phases=(Phase.PLANNING,),
    cites=(Cite("practice", "powered data cables are bundled by no more than two dozen"),),
    finds=Example("The desk's cable lies in a bundle of 48.", put(CableRun, "run-smu-desk", bundle_count=48)),
    passes=Example("It lies in a bundle of 24.", put(CableRun, "run-smu-desk", bundle_count=24)),
)
def large_powered_bundle(facts: Facts, run: CableRun) -> Said:
    """A cable that carries power lies in a large bundle.

    Why it matters: the cables in the middle cannot give off their heat. They get warmer than the plan reckons, which
    lowers the power at the unit and the length that a link may have.
    What to do: part the bundle, or give the cables in it a higher temperature in the plan; the cabling standards and
    the cable's maker tell how much. The figure of 24 is common practice, not a limit of a standard that we hold.
    """
    walk = facts.walk
    part = walk.find(Unit, run.far) or walk.find(Switch, run.far)
    profile = walk.profile(part.profile) if part is not None and walk.find(Switch, run.near) is not None else None
    if profile is None or profile.poe_class not in poe.CLASSES:
        return
    if run.bundle_count is None:
        # over two pairs a bundle is rarely warm enough to matter
        if poe.poe_class(profile.poe_class).pairs_count > POWERED_PAIRS_COUNT:
            yield lacks(run, "bundle")
    elif run.bundle_count <= BUNDLE_MOST_COUNT:
        yield HOLDS
    else:
        yield Found(f"{named(walk, run)}: a bundle of {run.bundle_count} cables, commonly at most {BUNDLE_MOST_COUNT}")


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
        shared = f" in {circuit.runs_count} runs, with all that shares them" if circuit.runs_count > 1 else ""
        return (
            f"{named(facts.walk, door)}: {circuit.lock_v:.1f} V at the lock of {circuit.supply_v:.1f} V, its maker asks"
            f" for {circuit.minimum_v:.1f} V; the cable takes {circuit.drop_v:.1f} V at {circuit.lock_a:.2f} A over"
            f" {circuit.length_m:.0f} m{shared}"
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
    supplies = supplies_of(walk, door.id)
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
    """What a supply feeds takes more current than it gives.

    Why it matters: with every lock energised at once the supply limits or turns off; doors stay locked or come free.
    What to do: share the locks between supplies, or choose a larger one.
    """

    def wrong(load: SupplyLoad) -> str | None:
        if load.load_a - load.output_a <= NOTHING:
            return None
        others = f" and {counted(load.others_count, 'unit')} or switches" if load.others_count else ""
        return (
            f"{named(facts.walk, supply)}: {counted(load.locks_count, 'lock')}{others} take"
            f" {load.load_a:.2f} A at once, it gives {load.output_a:.2f} A"
        )

    yield from answered(supply_load(facts.walk, supply), wrong)
