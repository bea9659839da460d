"""Why there is no plan: the smallest reasons first, single units, then groups that share too little, then limits."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import Final

from doorwright.kernel.words import counted
from doorwright.plan.placement import bound as bounds
from doorwright.plan.placement.figures import MW, Figures, milliwatts
from doorwright.plan.placement.flow import Shortage, shortage
from doorwright.plan.placement.problem import Demand, Problem
from doorwright.plan.placement.program import Goal, Program
from doorwright.plan.placement.routes import CM
from doorwright.plan.placement.search import search

_EFFORT_S: Final = 2.0
_NAMED_MOST_COUNT: Final = 5


def reasons(program: Program, *, proven: bool) -> tuple[tuple[str, ...], str]:
    """Return the reasons why there is no plan, and what to do."""
    figures = program.figures
    alone = list(_alone(figures))
    if alone:
        return tuple(alone), "Add cupboards nearer to these units, or switches that feed them; or check their lengths."
    cut_off = list(_cut_off(program))
    shared = list(_shared(program))
    if shared:
        return (*shared, *cut_off), "Give the cupboards named more room, add one in reach, or offer a larger switch."
    helping = list(_helping(figures)) if bounds.available() else []
    if helping:
        return (*helping, *cut_off), "Change one of these limits."
    if proven:
        return (
            *cut_off,
            "The limits on room, ports, power and uplinks cannot all be kept at once.",
        ), "Loosen some of them."
    return (
        *cut_off,
        "No plan was found in the effort given; there may be one.",
    ), "Allow more effort, or loosen limits."


def _alone(figures: Figures) -> Iterator[str]:
    """Tell of units that nothing can feed, whatever the others do."""
    limit_m = figures.measure.limit_cm / CM
    for demand in figures.wanting:
        within = figures.reach(demand)
        if not within:
            yield f"{demand.key}: {_nearest(figures, demand)}; a run may have {limit_m:g} m"
            continue
        need_mw = milliwatts(demand.power_w)
        able = [
            key
            for key in figures.types
            if figures.port_mw[key] >= need_mw and figures.usable_mw[key] >= need_mw and figures.usable_ports[key]
        ]
        there = [
            switch.type for switch in figures.existing.values() if switch.cupboard in within
        ]  # what is there may feed it from its spare
        if not able and not any(figures.port_mw[kind] >= need_mw for kind in there):
            yield f"{demand.key} draws {demand.power_w:g} W: no switch type gives that from one port within its spare"
        elif not there and not any(figures.fits(key, place) for key in able for place in within):
            yield f"{demand.key}: no cupboard in reach has mains for a switch that could feed it"


def _nearest(figures: Figures, demand: Demand) -> str:
    lengths = [
        (length_cm, one.key)
        for one in figures.problem.cupboards
        if (length_cm := figures.measure.run_cm(demand.spot, one.spot)) is not None
        and (one.spot.core == demand.spot.core or figures.problem.routes.units_cross)
    ]
    if not lengths:
        return "no cupboard can be reached by cable"
    length_cm, key = min(lengths)
    return f"the nearest cupboard, {key}, is {length_cm / CM:.1f} m away"


def _cut_off(program: Program) -> Iterator[str]:
    main = program.figures.problem.root.cupboard
    for cupboard in program.used:
        if not any(start == cupboard for start, _, _ in program.link):
            yield f"no uplink leads from {cupboard} to {main}: farther than copper reaches, and no switch takes fibre"


def _shared(program: Program) -> Iterator[str]:
    """Tell of units that together reach too few ports or too few watts."""
    figures = program.figures
    for unit, lacking in (("port", _ports(program)), ("W", _watts(program))):
        if lacking is None:
            continue
        units = [key for index in lacking.groups for key in figures.groups[index].members]
        named = ", ".join(units[:_NAMED_MOST_COUNT])
        more = len(units) - _NAMED_MOST_COUNT
        who = f"{named} and {more} more" if more > 0 else named
        where = ", ".join(lacking.cupboards) or "no cupboard"
        wanted, held = (
            (counted(lacking.wanted, "port"), counted(lacking.held, "port"))
            if unit == "port"
            else (f"{lacking.wanted / MW:g} W", f"{lacking.held / MW:g} W")
        )
        yield f"{who} want {wanted} together and reach only {where}: at most {held} there within the spare"


def _ports(program: Program) -> Shortage | None:
    figures = program.figures
    return shortage(program, lambda _: 1, figures.usable_ports, figures.free_count)


def _watts(program: Program) -> Shortage | None:
    figures = program.figures
    return shortage(program, lambda group: group.power_mw, figures.usable_mw, lambda key: figures.free(key).power_mw)


def _helping(figures: Figures) -> Iterator[str]:
    """Tell which single limit, if it were lifted, would make a plan possible."""
    problem = figures.problem
    lifted: Sequence[tuple[str, Callable[[Problem], Problem]]] = (
        ("without the spare of ports there is a plan", lambda one: replace(one, spare_ports_ratio=0.0)),
        ("without the spare of PoE power there is a plan", lambda one: replace(one, spare_power_ratio=0.0)),
        ("with more room for switches in the cupboards there is a plan", _roomy),
        ("with more switches of the types that are limited there is a plan", _plenty),
        ("with more ports at the root for uplinks there is a plan", _wide_root),
        (
            "with runs from other cores there is a plan",
            lambda one: replace(one, routes=replace(one.routes, units_cross=True)),
        ),
    )
    for told, lift in lifted:
        other = lift(problem)
        if other != problem and _possible(other, figures):
            yield told


def _roomy(problem: Problem) -> Problem:
    return replace(problem, cupboards=tuple(replace(one, room_count=None) for one in problem.cupboards))


def _plenty(problem: Problem) -> Problem:
    return replace(problem, types=tuple(replace(one, at_most_count=None) for one in problem.types))


def _wide_root(problem: Problem) -> Problem:
    return replace(problem, root=replace(problem.root, ports_count=None, placed=False, switch=None))


def _possible(problem: Problem, figures: Figures) -> bool:
    program = Program(Figures(problem, figures.stays, may_move=False))
    found = search(program.rows, Goal("", ()), hint=None, effort_s=_EFFORT_S)
    return found.values is not None
