"""Why each new switch stands where it does, in words."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence

from doorwright.kernel.words import counted, plural
from doorwright.plan.placement.figures import MW, Figures, milliwatts
from doorwright.plan.placement.result import Placed, Run
from doorwright.plan.placement.routes import CM
from doorwright.plan.placement.split import Split


def why(figures: Figures, single: Split) -> Mapping[str, tuple[str, ...]]:
    """Return the reasons for each new switch by its key."""
    by_switch: dict[str, list[Run]] = defaultdict(list)
    for run in single.runs:
        by_switch[run.switch].append(run)
    told: dict[str, tuple[str, ...]] = {}
    for one in single.switches:
        if one.new:
            runs = by_switch[one.key]
            lines = [_load(figures, one, runs)] if runs else []
            told[one.key] = (*lines, *_need(figures, single, one, runs))
    return told


def _load(figures: Figures, switch: Placed, runs: Sequence[Run]) -> str:
    kind = figures.types[switch.type]
    power_w = sum(milliwatts(figures.demands[run.demand].power_w) for run in runs) / MW
    longest_m = max(run.length_m for run in runs)
    watts = f", {power_w:g} W of {figures.usable_mw[kind.key] / MW:g} W" if power_w else ""
    return (
        f"feeds {counted(len(runs), 'unit')} ({_levels(figures, runs)}) "
        f"on {counted(figures.usable_ports[kind.key], 'usable port')}"
        f"{watts}; longest run {longest_m:.1f} m of {figures.measure.limit_cm / CM:g} m"
    )


def _levels(figures: Figures, runs: Sequence[Run]) -> str:
    heights = figures.problem.routes.heights_m
    spots = [figures.demands[run.demand].spot for run in runs]
    levels = sorted({spot.level for spot in spots}, key=lambda level: heights[level])
    span = f"level {levels[0]}" if len(levels) == 1 else f"levels {levels[0]} to {levels[-1]}"
    cores = sorted({spot.core for spot in spots})
    return f"{span} of {' and '.join(cores)}"


def _need(figures: Figures, single: Split, switch: Placed, runs: Sequence[Run]) -> list[str]:
    """Say what goes wrong without the switch: a distance, ports or watts; else what it saves."""
    lines = []
    fed_count = sum(link.to == switch.key for link in single.uplinks)
    if switch.key == single.root_switch:
        lines.append("is the root that all uplinks lead to")
    elif fed_count:
        lines.append(f"feeds {fed_count} more {'switch' if fed_count == 1 else plural('switch')}")
    if not runs:
        return lines
    together = _together(figures, single, switch)
    lines.extend([together] if together else _without(figures, single, switch, runs))
    return lines


def _together(figures: Figures, single: Split, switch: Placed) -> str | None:
    """Say why a cupboard needs more than one switch, for its second new switch and those after."""
    here = [one for one in single.switches if one.new and one.cupboard == switch.cupboard]
    number = [one.key for one in here].index(switch.key)
    if not number:
        return None
    keys = {one.key for one in here}
    units = [run.demand for run in single.runs if run.switch in keys]
    before = here[:number]
    ports_count = sum(figures.types[one.type].ports_count for one in before)
    usable_count = sum(figures.usable_ports[one.type] for one in before)
    spare = figures.problem.spare_ports_ratio
    if len(units) > usable_count:
        return (
            f"ports: {counted(len(units), 'unit')} + {spare:.0%} spare do not fit {ports_count} ports "
            f"({usable_count} may be used)"
        )
    power_w = sum(milliwatts(figures.demands[unit].power_w) for unit in units) / MW
    usable_w = sum(figures.usable_mw[one.type] for one in before) / MW
    if power_w > usable_w:
        spare = figures.problem.spare_power_ratio
        return f"PoE: {power_w:g} W + {spare:.0%} spare do not fit the budget, of which {usable_w:g} W may be used"
    return None


def _without(figures: Figures, single: Split, switch: Placed, runs: Sequence[Run]) -> list[str]:
    others = sorted({one.cupboard for one in single.switches if one.cupboard != switch.cupboard})
    far: Counter[str] = Counter()
    nearest_m: dict[str, float] = {}
    more_m = 0.0
    for run in runs:
        demand = figures.demands[run.demand]
        within = set(figures.reach(demand))
        lengths = {
            key: figures.run_m(run.demand, key)
            for key in others
            if figures.measure.run_cm(demand.spot, figures.cupboards[key].spot)
        }
        inside = [length_m for key, length_m in lengths.items() if key in within]
        if inside:
            more_m += max(0.0, min(inside) - run.length_m)
            continue
        far[demand.spot.level] += 1
        if lengths:
            nearest_m[demand.spot.level] = max(min(lengths.values()), nearest_m.get(demand.spot.level, 0.0))
    if far:
        return [
            f"{counted(count, 'unit')} of level {level} would be without: "
            + (
                f"the next switch is {nearest_m[level]:.1f} m away"
                if level in nearest_m
                else "no other switch is in reach"
            )
            for level, count in far.items()
        ]
    free_count = _free_count(figures, single, others)
    if free_count < len(runs):
        return [
            f"ports: {counted(len(runs), 'unit')} would be without; all other cupboards have {free_count} usable left"
        ]
    return [f"saves {more_m:.0f} m of cable against the next cupboards with switches"] if more_m >= 1 else []


def _free_count(figures: Figures, single: Split, cupboards: Sequence[str]) -> int:
    taken = Counter(run.switch for run in single.runs)
    return sum(
        max(0, figures.usable_ports[one.type] - taken[one.key]) for one in single.switches if one.cupboard in cupboards
    )


def notes(figures: Figures) -> tuple[str, ...]:
    """Return what holds for the whole plan and a reader should know beside its aims and what moved."""
    told = []
    unknown = [key for key, one in figures.cupboards.items() if one.room_count is None]
    if unknown:
        told.append(f"Room for switches is not known in {', '.join(unknown)}: it was taken as enough.")
    if not figures.priced:
        told.append("No prices: the fewest new switches were sought, then the least cable.")
    return tuple(told)
