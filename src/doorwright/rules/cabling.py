"""Cabling: every part has its cable, every cable its ports, and no link is too long."""

from collections.abc import Iterator
from typing import Final

from doorwright.calc.cable import CableUse, cable_kinds
from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity
from doorwright.model.door import Door
from doorwright.model.naming import named
from doorwright.model.network import CableRun, Junction, Switch
from doorwright.model.part import Part
from doorwright.model.power import Supply
from doorwright.model.site import Site
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rules.example import as_it_is, put, without
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Lacks, Said, lacks, rule
from doorwright.rules.saying import found_or_holds, some
from doorwright.studies.dc_duty import fed_part
from doorwright.studies.link_length import link_length

PLANNING: Final = (Phase.PLANNING, Phase.INSTALLATION, Phase.OPERATION)
LINKS: Final = (Cite("tia568", "permanent link 90 m"), Cite("iso11801", "permanent link 90 m"))


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "one cable, one unit"), Cite("iec62820-1-2", "network")),
    finds=Example("The cable to the unit of dwelling 102 is taken away.", without(CableRun, "run-uru-2")),
    passes=Example("Every unit has its cable.", as_it_is),
)
def unit_not_cabled(facts: Facts, unit: Unit) -> Said:
    """A unit has no cable from a switch, or more than one.

    Why it matters: a unit without a cable has neither network nor power; two cables to one unit mean that another has
    none.
    What to do: add the run from the nearest switch with a free port.
    """
    walk = facts.walk
    feeders = [run for run in walk.runs_to(unit.id) if walk.find(Switch, run.near) is not None]
    if len(feeders) == 1:
        yield HOLDS
    elif feeders:
        ordered = tuple(sorted(feeders, key=lambda run: (run.name, run.id)))
        yield Found(f"{named(walk, unit)} has {len(feeders)} cables: {some(run.label for run in feeders)}", ordered)
    else:
        yield Found(f"{named(walk, unit)} has no cable from a switch")


@rule(
    over=Switch,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "one plug in one port"),),
    finds=Example("The cables to dwellings 101 and 102 go to the same port.", put(CableRun, "run-uru-2", near_port=5)),
    passes=Example("The cable to dwelling 102 goes to a free port.", put(CableRun, "run-uru-2", near_port=16)),
)
def port_used_twice(facts: Facts, switch: Switch) -> Said:
    """Two cables are planned for one port of a switch.

    Why it matters: one of them stays unplugged, or takes a port that was meant for another.
    What to do: move the one that is not plugged yet to a free port.
    """
    walk = facts.walk
    runs_at: dict[int, list[CableRun]] = {}
    for port, run in _plugged(walk, switch):
        if port is None:
            yield lacks(run, "port")
        else:
            runs_at.setdefault(port, []).append(run)
    if runs_at:
        yield from found_or_holds(
            Found(
                f"{named(walk, switch)}: port {port} is planned for {some(run.label for run in runs)}",
                tuple(sorted(runs, key=lambda run: run.id)),
            )
            for port, runs in runs_at.items()
            if len(runs) > 1
        )


def _plugged(walk: Walk, switch: Switch) -> Iterator[tuple[int | None, CableRun]]:
    """Yield each run at a switch with its port; a run from a supply or junction has none."""
    for run in walk.runs_from(switch.id):
        yield run.near_port, run
    for run in walk.runs_to(switch.id):
        if walk.find(Supply, run.near) is None and walk.find(Junction, run.near) is None:
            yield run.far_port, run


@rule(
    over=Switch,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "the data sheet of the switch says how many ports it has"),),
    finds=Example(
        "The cable to dwelling 102 goes to port 40 of a switch of 18.", put(CableRun, "run-uru-2", near_port=40)
    ),
    passes=Example("It goes to port 16.", put(CableRun, "run-uru-2", near_port=16)),
)
def port_not_there(facts: Facts, switch: Switch) -> Said:
    """A cable is planned for a port that the switch does not have.

    Why it matters: the cable cannot be plugged in.
    What to do: move it to a free port, or choose a larger switch.
    """
    walk = facts.walk
    profile = walk.profile(switch.profile)
    if profile is None:
        yield lacks(switch, "profile")
        return
    plugged = [(port, run) for port, run in _plugged(walk, switch) if port is not None]
    if plugged:
        yield from found_or_holds(
            Found(f"{named(walk, switch)}: {run.label} is planned for port {port} of {profile.ports_count}", (run,))
            for port, run in plugged
            if not 1 <= port <= profile.ports_count
        )


@rule(
    over=Switch,
    severity=Severity.NOTE,
    phases=(Phase.PLANNING, Phase.INSTALLATION),
    cites=(Cite("practice", "uplink ports are the last ones and often give no power"),),
    finds=Example("The cable to dwelling 102 goes to an uplink port.", put(CableRun, "run-uru-2", near_port=18)),
    passes=Example("It goes to the last port for units.", put(CableRun, "run-uru-2", near_port=16)),
)
def unit_on_uplink(facts: Facts, switch: Switch) -> Said:
    """A unit is plugged into an uplink port.

    Why it matters: uplink ports often give no power, and the next switch has nowhere to go.
    What to do: move the unit to a free port for units.
    """
    walk = facts.walk
    profile = walk.profile(switch.profile)
    fed = [(run, unit) for run in walk.runs_from(switch.id) if (unit := walk.find(Unit, run.far)) is not None]
    if profile is None or not fed or not profile.uplinks_count:
        return
    last = profile.ports_count - profile.uplinks_count
    yield from found_or_holds(
        Found(f"{named(walk, switch)}: {named(walk, unit)} is on port {run.near_port}, an uplink", (run, unit))
        for run, unit in fed
        if run.near_port is not None and last < run.near_port <= profile.ports_count
    )


@rule(
    over=CableRun,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=LINKS,
    finds=Example("The cable to dwelling 102 is 100 m long.", put(CableRun, "run-uru-2", length_m=100.0)),
    passes=Example("It is 86 m long, at 30 °C.", put(CableRun, "run-uru-2", length_m=86.0)),
)
def link_too_long(facts: Facts, run: CableRun) -> Said:
    """A data link is longer than a permanent link may be.

    Why it matters: the link may come up today and fall to 10 Mb/s or fail in summer; no cable tester will pass it.
    What to do: put a switch nearer, or go by fibre.
    """
    study = facts.walk.once(link_length, run)
    if study.value is None:
        if study.missing:
            yield Lacks(study.missing)
    elif study.value.length_m > study.value.limit_at_20_c_m:
        yield Found(
            f"{_run(facts.walk, run)} is {study.value.length_m:.0f} m long,"
            f" the limit is {study.value.limit_at_20_c_m:.0f} m"
        )
    else:
        yield HOLDS


@rule(
    over=CableRun,
    severity=Severity.WARNING,
    phases=PLANNING,
    cites=(Cite("tia568", "568-C.2, clause 6.4.7 and Annex G"), Cite("iso11801")),
    finds=Example(
        "The cable to dwelling 102 is 88 m long and gets 40 °C warm.",
        put(CableRun, "run-uru-2", length_m=88.0, temperature_c=40.0),
    ),
    passes=Example(
        "It is 80 m long and gets 40 °C warm.", put(CableRun, "run-uru-2", length_m=80.0, temperature_c=40.0)
    ),
)
def warm_link_too_long(facts: Facts, run: CableRun) -> Said:
    """A data link is too long for how warm it gets.

    Why it matters: loss rises with temperature. A link near its limit fails on hot days, in lofts and risers first.
    What to do: shorten it, use screened cable, or lead it where it is cooler.
    """
    study = facts.walk.once(link_length, run)
    if study.value is None:
        return  # what is missing is told by link-too-long
    if study.value.limit_m < study.value.length_m <= study.value.limit_at_20_c_m:
        yield Found(
            f"{_run(facts.walk, run)} is {study.value.length_m:.0f} m long,"
            f" at {study.value.temperature_c:.0f} °C the limit is {study.value.limit_m:.1f} m"
        )
    else:
        yield HOLDS


@rule(
    over=CableRun,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "data on twisted pairs, power on two wires"), Cite("tia568")),
    finds=Example("The cable to dwelling 102 is two-wire.", put(CableRun, "run-uru-2", cable="2x1.0")),
    passes=Example("It is category 6.", put(CableRun, "run-uru-2", cable="cat6")),
)
def cable_unsuitable(facts: Facts, run: CableRun) -> Said:
    """A cable is of a kind that does not suit what it connects.

    Why it matters: a network unit does not work over two wires, a powered unit not over fibre, and thin data pairs make
    a poor lock circuit.
    What to do: choose a cable kind that suits; where old cable must be kept, plan a converter and accept this finding.
    """
    walk = facts.walk
    if run.cable is None:
        yield lacks(run, "cable")
        return
    kind = cable_kinds().get(run.cable)
    if kind is None:
        yield Found(f"{_run(walk, run)}: {run.cable!r} is no known kind of cable")
        return
    far = walk.part(run.far)
    from_switch = walk.find(Switch, run.near) is not None
    if from_switch and isinstance(far, Unit):
        suits: tuple[CableUse, ...] = (CableUse.DATA,)
    elif from_switch and isinstance(far, Switch):
        suits = (CableUse.DATA, CableUse.OPTICAL)
    elif walk.find(Supply, run.near) is not None or walk.find(Junction, run.near) is not None:
        suits = (CableUse.POWER,)
    else:
        return  # told by cable-leads-nowhere
    if kind.use in suits:
        yield HOLDS
    else:
        yield Found(
            f"{_run(walk, run)} is {kind.title!r}, a cable for {kind.use.value} use,"
            f" wanted {' or '.join(use.value for use in suits)}"
        )


@rule(
    over=CableRun,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "references of a plan lead somewhere"),),
    finds=Example(
        "The cable to dwelling 102 ends at a unit that is not there.", put(CableRun, "run-uru-2", far="uru-99")
    ),
    passes=Example("Every cable has two ends.", as_it_is),
)
def cable_leads_nowhere(facts: Facts, run: CableRun) -> Said:
    """A cable begins or ends at something that the site does not have, or that it cannot feed.

    Why it matters: it is pulled for nothing, or its real end has no cable in the plan.
    What to do: correct both ends: from a switch to a unit or switch, from a supply, also through junctions, to a door,
    switch or unit.
    """
    walk = facts.walk
    near: Part | None = walk.find(Switch, run.near) or walk.find(Supply, run.near) or walk.find(Junction, run.near)
    far: Part | None = fed_part(walk, run.far) or walk.find(Junction, run.far)
    if near is None:
        yield Found(f"{named(walk, run)} begins at {run.near!r}, which is no switch, supply or junction of the site")
    if far is None:
        yield Found(f"{named(walk, run)} ends at {run.far!r}, which is no unit, switch, door or junction of the site")
    elif isinstance(near, Switch) and isinstance(far, Door | Junction):
        yield Found(f"{named(walk, run)} leads from {named(walk, near)} to {named(walk, far)}, which it cannot feed")
    elif near is not None:
        yield HOLDS


def _run(walk: Walk, run: CableRun) -> str:
    near, far = walk.part(run.near), walk.part(run.far)
    ends = [named(walk, part) if part else repr(ident) for part, ident in ((near, run.near), (far, run.far))]
    return f"cable run {run.label}, {' to '.join(ends)},"


@rule(
    over=Site,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "one network for units that call each other"), Cite("iec62820-1-2", "network")),
    finds=Example("The link between both switches is taken away.", without(CableRun, "run-switches")),
    passes=Example("The switches are linked.", as_it_is),
)
def switch_on_an_island(facts: Facts, _: Site) -> Said:
    """A switch has no link to the others.

    Why it matters: its units have power and no network; they never register.
    What to do: add the uplink, or say in a waiver that somebody else's network joins the switches.
    """
    walk = facts.walk
    switches = walk.all(Switch)
    if len(switches) < 2:
        return
    islands = _islands(walk, switches)
    if len(islands) == 1:
        yield HOLDS
        return
    largest = islands[0]
    for island in islands[1:]:
        yield Found(
            f"no link joins {some(named(walk, switch) for switch in island)} to the"
            f" {len(largest)} other{'s' if len(largest) > 1 else ''} around {named(walk, largest[0])}",
            tuple(island),
        )


def _islands(walk: Walk, switches: tuple[Switch, ...]) -> list[list[Switch]]:
    """Return groups of linked switches, each in order of identifier, the largest group first."""
    waiting = {switch.id: switch for switch in sorted(switches, key=lambda switch: switch.id)}
    islands = []
    while waiting:
        reached = [next(iter(waiting.values()))]
        del waiting[reached[0].id]
        for switch in reached:
            runs = (*walk.runs_from(switch.id), *walk.runs_to(switch.id))
            ends = {end for run in runs for end in (run.near, run.far)}
            reached += [waiting.pop(ident) for ident in sorted(ends & waiting.keys())]
        islands.append(sorted(reached, key=lambda switch: switch.id))
    return sorted(islands, key=lambda island: (-len(island), island[0].id))
