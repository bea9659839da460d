"""Supplies: every circuit carries its loads, on mains and to the end of standby, and its fuses and battery suffice."""

from typing import Final

from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity
from doorwright.model.door import Door
from doorwright.model.naming import named
from doorwright.model.network import CableRun, Junction
from doorwright.model.power import Supply
from doorwright.model.walk import Walk
from doorwright.rules.example import as_it_is, both, plus, put, put_profile, without
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Lacks, Said, rule
from doorwright.rules.saying import answered, found_or_holds, some
from doorwright.studies.dc_branch import branches_of, supplies_of
from doorwright.studies.dc_duty import flows_always
from doorwright.studies.fuse_load import FuseLoad, fuse_load
from doorwright.studies.standby import Standby, standby
from doorwright.studies.supply_network import LoadVoltage, SupplyNetwork, missing_end_v, supply_network

PLANNING: Final = (Phase.PLANNING, Phase.COMMISSIONING, Phase.OPERATION)
CIRCUITS: Final = (
    Cite("ohm1827"),
    Cite("iec60228"),
    Cite("practice", "a circuit is sized at its farthest load, cable warm, everything operated at once"),
)
MEASURE: Final = "Measure on site under load."
BORROWED: Final = (
    "The factors come from fire-alarm standards or plain sums; where a lock belongs to an escape or fire function a"
    " competent person decides"
)


@rule(
    over=Supply,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(*CIRCUITS, Cite("jeeninga2020", "loads of constant power that no voltage can feed")),
    finds=Example("The run to the main door is 5 km long.", put(CableRun, "run-door-main", length_m=5000.0)),
    passes=Example("It is 40 m long.", put(CableRun, "run-door-main", length_m=40.0)),
)
def circuit_collapses(facts: Facts, supply: Supply) -> Said:
    """A circuit of a supply cannot carry what hangs on it.

    Why it matters: the voltage breaks down when the loads come on: locks do not work, units restart without end.
    What to do: use thicker conductors or shorter runs, or share the loads among more runs or supplies.
    """

    def wrong(circuits: SupplyNetwork) -> str | None:
        if not circuits.collapses:
            return None
        first = max(circuits.collapses, key=lambda collapse: collapse.output_v)
        return (
            f"{named(facts.walk, supply)}: with {first.moment.value} at {first.output_v:.1f} V its circuit collapses at"
            f" {_named(facts.walk, first.node)}; {first.carried_ratio:.0%} of the loads could be carried"
        )

    yield from answered(facts.walk.once(supply_network, supply), wrong)


@rule(
    over=Supply,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=CIRCUITS,
    finds=Example(
        "The upper switch is fed with 24 V and needs 46 V.",
        both(
            put_profile("switch-8", dc_draw_w=60.0, dc_minimum_v=46.0),
            plus(CableRun(id="dc", name="L9", near="supply-1", far="switch-2", cable="2x1.0", length_m=10.0)),
        ),
    ),
    passes=Example(
        "It needs 20 V.",
        both(
            put_profile("switch-8", dc_draw_w=24.0, dc_minimum_v=20.0),
            plus(CableRun(id="dc", name="L9", near="supply-1", far="switch-2", cable="2x1.0", length_m=10.0)),
        ),
    ),
)
def unit_starved_by_its_supply(facts: Facts, supply: Supply) -> Said:
    """A unit or switch gets less voltage from its supply than it needs.

    Why it matters: it restarts whenever its load rises, and everything behind it is gone for minutes.
    What to do: use thicker conductors, a shorter run, or a supply of a higher voltage that its data sheet allows.
    """
    study = facts.walk.once(supply_network, supply)
    if study.value is None:
        yield from answered(study, lambda _: None)
        return
    units = [load for load in study.value.loads if facts.walk.find(Door, load.part) is None]
    if units:
        yield from found_or_holds(
            Found(f"{named(facts.walk, supply)}: {_short(facts.walk, load, load.operated_v)}. {MEASURE}")
            for load in units
            if load.operated_v < load.minimum_v
        )


@rule(
    over=Supply,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(*CIRCUITS, Cite("practice", "a battery is judged at the voltage at which it is empty")),
    finds=Example("The supply gives 20 V at the end of standby.", put_profile("supply-24v-5a", battery_end_v=20.0)),
    passes=Example("It gives 22 V.", put_profile("supply-24v-5a", battery_end_v=22.0)),
)
def starved_at_end_of_standby(facts: Facts, supply: Supply) -> Said:
    """A lock, unit or switch gets too little voltage at the end of standby.

    Why it matters: in a power cut the locks stop working hours before the battery is empty, and nobody knows which.
    What to do: size the cables for the voltage at the end of standby, not for that on mains.
    """
    study = facts.walk.once(supply_network, supply)
    circuits = study.value
    if circuits is None:
        if supply.battery_ah is not None:
            yield from answered(study, lambda _: None)
    elif circuits.end_v is not None:
        short = [
            _short(facts.walk, load, load.end_v)
            for load in circuits.loads
            if load.end_v is not None and load.end_v < load.minimum_v
        ]
        if short:
            yield Found(
                f"{named(facts.walk, supply)}: at the end of standby, {circuits.end_v:.1f} V, {some(short)}. {MEASURE}"
            )
        else:
            yield HOLDS
    elif missing := missing_end_v(facts.walk, supply):
        yield Lacks(missing)


@rule(
    over=Supply,
    severity=Severity.WARNING,
    phases=PLANNING,
    cites=CIRCUITS,
    finds=Example(
        "The gate's motor starts with 4 A and its run is 100 m long.",
        both(
            put(Door, "door-gate", lock_inrush_a=4.0),
            put_profile("vcu-directory", output_contact_inrush_a=5.0),
            put(CableRun, "run-door-gate", length_m=100.0),
        ),
    ),
    passes=Example("It starts with 0.8 A.", put(Door, "door-gate", lock_inrush_a=0.8)),
)
def starved_while_starting(facts: Facts, supply: Supply) -> Said:
    """The inrush of a lock pulls the voltage below what a lock, unit or switch needs.

    Why it matters: a motor that starts too weakly stalls, and units on the same supply restart at that instant.
    What to do: ask the maker what voltage the lock needs to start; use thicker conductors or a run of its own.
    """

    def wrong(circuits: SupplyNetwork) -> str | None:
        # what is short in any case is told by other rules
        short = [
            _short(facts.walk, load, load.starting_v)
            for load in circuits.loads
            if load.starting_v < load.minimum_v <= load.operated_v
        ]
        return f"{named(facts.walk, supply)}: while locks start, {some(short)}. {MEASURE}" if short else None

    yield from answered(facts.walk.once(supply_network, supply), wrong)


@rule(
    over=Supply,
    severity=Severity.WARNING,
    phases=(Phase.PLANNING,),
    cites=(Cite("practice", "circuits of locks spread like a tree"),),
    finds=Example(
        "A second run leads to the main door.",
        plus(CableRun(id="run-second", name="L9", near="supply-1", far="door-main", cable="2x1.0", length_m=9.0)),
    ),
    passes=Example("Every door has one.", as_it_is),
)
def fed_by_two_runs(facts: Facts, supply: Supply) -> Said:
    """Two runs of a supply lead to the same part.

    Why it matters: only the first is reckoned with. A ring hides a broken wire until the second breaks too, and a fuse
    no longer cuts off what lies behind it.
    What to do: take the second run out of the plan, or name one run of the cable that both make together.
    """
    branches = branches_of(facts.walk, supply)
    doubled = [run for branch in branches for run in branch.doubled]
    if doubled:
        names = some(f"{run.label} to {_named(facts.walk, run.far)}" for run in doubled)
        yield Found(f"{named(facts.walk, supply)}: fed by another run already: {names}", tuple(doubled))
    elif branches:
        yield HOLDS


@rule(
    over=Junction,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "a junction parts what a supply feeds"),),
    finds=Example("The run from the supply to the box is not there.", without(CableRun, "run-junction-1")),
    passes=Example("It is there.", as_it_is),
)
def junction_fed_by_nothing(facts: Facts, junction: Junction) -> Said:
    """No supply feeds a junction.

    Why it matters: what hangs on it has no power in the plan, and is missing in the load of its real supply.
    What to do: enter the run that comes from the supply, or from another junction.
    """
    if supplies_of(facts.walk, junction.id):
        yield HOLDS
    else:
        yield Found(f"{named(facts.walk, junction)} is fed by no supply")


@rule(
    over=CableRun,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("iec60127"), Cite("iec60269")),
    finds=Example("The fuse of the main door's run is rated for 0.2 A.", put(CableRun, "run-door-main", fuse_a=0.2)),
    passes=Example("It is rated for 1 A.", put(CableRun, "run-door-main", fuse_a=1.0)),
)
def fuse_too_small(facts: Facts, run: CableRun) -> Said:
    """A fuse carries less than its circuit takes.

    Why it matters: it ages and opens, mostly in warm weather, and the doors behind it stay locked or come free.
    What to do: divide the circuit, or choose the fuse for the current, as long as the cable bears it.
    """

    def wrong(load: FuseLoad) -> str | None:
        if load.duty.carries:
            return None
        return (
            f"{_run_named(facts.walk, run)}: {load.operated_a:.2f} A flow through {_fuse(load)} of {load.fuse_a:.2f} A"
        )

    yield from answered(fuse_load(facts.walk, run), wrong)


@rule(
    over=CableRun,
    severity=Severity.NOTE,
    phases=(Phase.PLANNING,),
    cites=(Cite("iec60127", "an hour at 1.5 times the rating; opens at 2.1 times"),),
    finds=Example(
        "The gate's motor starts with 1.9 A behind a fuse of 1 A.",
        both(put(Door, "door-gate", lock_inrush_a=1.9), put(CableRun, "run-door-gate", fuse_a=1.0)),
    ),
    passes=Example("The fuse is rated for 2 A.", put(CableRun, "run-door-gate", fuse_a=2.0)),
)
def fuse_at_inrush(facts: Facts, run: CableRun) -> Said:
    """An inrush is above what a fuse is sure to ride through.

    Why it matters: whether the fuse opens then depends on milliseconds, which only its melting curve tells.
    What to do: compare the inrush and its length with the melting curve of the fuse's maker, or choose a slower fuse.
    """

    def wrong(load: FuseLoad) -> str | None:
        # a fuse that does not carry what flows for long is told by fuse-too-small
        if load.duty.rides_peak or not load.duty.carries:
            return None
        return (
            f"{_run_named(facts.walk, run)}: {load.peak_a:.2f} A flow at the highest inrush through {_fuse(load)} of"
            f" {load.fuse_a:.2f} A"
        )

    yield from answered(fuse_load(facts.walk, run), wrong)


@rule(
    over=Supply,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(
        Cite("practice", "charge is current times time"),
        Cite("bs5839-1"),
        Cite("vde0833-2"),
        Cite("nfpa72"),
        Cite("solar-sheets", "battery temperature multiplier"),
    ),
    finds=Example("The battery is to carry the locks for 60 h.", put(Supply, "supply-1", standby_h=60.0)),
    passes=Example("It is to carry them for 10 h.", put(Supply, "supply-1", standby_h=10.0)),
)
def battery_too_small(facts: Facts, supply: Supply) -> Said:
    """The battery of a supply is smaller than the standby asks for.

    Why it matters: magnets let go and strikes stop working before the time is over that the owner was promised.
    What to do: choose a larger battery that the supply can charge, keep it warmer, or agree a shorter standby with the
    owner.
    """

    def wrong(needs: Standby) -> str | None:
        if needs.required_ah <= needs.battery_ah:
            return None
        return (
            f"{named(facts.walk, supply)}: {needs.standby_h:g} h of standby ask for {needs.required_ah:.1f} Ah"
            f" ({needs.practice.title}), its battery has {needs.battery_ah:.1f} Ah; {_cold(needs)}. {BORROWED}"
        )

    study = facts.walk.once(standby, supply)
    # cold can only make a battery smaller: what is too small without it is too small
    if study.value is not None and study.value.lacking_cold and wrong(study.value) is None:
        yield Lacks(study.value.lacking_cold)
    else:
        yield from answered(study, wrong)


@rule(
    over=Supply,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("peukert1897", "a battery gives less when it is emptied faster"),),
    finds=Example(
        "The battery of 7 Ah is of a kind that gives much less when emptied fast, and the site is busy for 8 h.",
        both(
            put_profile("supply-24v-5a", peukert_exponent=1.4),
            put(Supply, "supply-1", standby_h=9.0, standby_busy_h=8.0),
        ),
    ),
    passes=Example("It is busy for half an hour.", put(Supply, "supply-1", standby_h=9.0, standby_busy_h=0.5)),
)
def battery_empty_early(facts: Facts, supply: Supply) -> Said:
    """The battery of a supply is empty before the standby is over.

    Why it matters: the capacity on its label holds for a slow discharge; locks that work empty it sooner.
    What to do: choose a larger battery that the supply can charge, or agree a shorter standby with the owner.
    """
    study = facts.walk.once(standby, supply)
    if study.value is not None and study.value.lacking:
        yield Lacks(study.value.lacking)
        return

    def wrong(needs: Standby) -> str | None:
        if needs.empty_after_h is None:
            return None
        return (
            f"{named(facts.walk, supply)}: its battery is empty after {needs.empty_after_h:.1f} h of"
            f" {needs.standby_h:g} h, new; {_cold(needs)}"
        )

    if study.value is not None and study.value.lacking_cold and wrong(study.value) is None:
        yield Lacks(study.value.lacking_cold)
    else:
        yield from answered(study, wrong)


@rule(
    over=Supply,
    severity=Severity.WARNING,
    phases=(Phase.PLANNING, Phase.HANDOVER, Phase.OPERATION),
    cites=(Cite("practice", "a fail-safe lock frees the door without power"),),
    finds=Example("The lock supply has no battery.", put(Supply, "supply-1", battery_ah=None)),
    passes=Example("It has one.", as_it_is),
)
def power_cut_frees_doors(facts: Facts, supply: Supply) -> Said:
    """Fail-safe locks hang on a supply without a battery.

    Why it matters: every power cut frees these doors, and anybody who can reach the mains can make one.
    What to do: ask the owner whether that is meant so, and record it with a waiver; or add a battery. A battery must
    not keep an escape door locked that the fire alarm is to free: a competent person decides how both go together.
    """
    doors = [
        part
        for branch in branches_of(facts.walk, supply)
        for part in branch.parts
        if isinstance(part, Door) and flows_always(part)
    ]
    if doors and supply.battery_ah is None:
        names = some(named(facts.walk, door) for door in doors)
        yield Found(f"{named(facts.walk, supply)} has no battery; without mains come free: {names}", tuple(doors))
    elif doors:
        yield HOLDS


def _cold(needs: Standby) -> str:
    if needs.lacking_cold or needs.battery_c is None:
        return "cold is not counted"
    return f"cold is counted {needs.cold_ratio:.2f} times, for {needs.battery_c:g} °C"


def _named(walk: Walk, ident: str) -> str:
    part = walk.part(ident)
    return named(walk, part) if part else "its far end"


def _run_named(walk: Walk, run: CableRun) -> str:
    return f"{named(walk, run)} to {_named(walk, run.far)}"


def _fuse(load: FuseLoad) -> str:
    return "the fuse of the supply's output" if load.at_supply else "a fuse"


def _short(walk: Walk, load: LoadVoltage, volts: float) -> str:
    return f"{_named(walk, load.part)} gets {max(volts, 0.0):.1f} V and needs {load.minimum_v:.1f} V"
