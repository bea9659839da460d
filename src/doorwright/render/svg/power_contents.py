"""What the power drawing shows: each supply, its runs as a tree over the junctions, and what each load takes.

Pure sorting, no millimetres. What the book does not know is said in words, never filled in.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from doorwright.kernel.words import counted
from doorwright.model.door import Door
from doorwright.model.label import natural_key
from doorwright.model.naming import name_of, where_is
from doorwright.model.network import CableRun, Junction, Switch
from doorwright.model.power import Supply
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.render.svg.riser_cables import kind_and_length
from doorwright.render.svg.symbols import Sign, lock_sign
from doorwright.studies.dc_duty import converter_w

_SIGN = {UnitKind.VCU: Sign.VCU, UnitKind.URU: Sign.URU, UnitKind.SMU: Sign.SMU}


@dataclass(frozen=True, slots=True)
class Row:
    """One run: how deep in the tree, below which row it hangs, its fuse, and what stands at its end.

    ``line`` counts lines downwards: the first run from a junction goes on in the junction's own line. ``parent`` is the
    line of the junction that it comes from, None where it comes from the supply. ``sign`` is None for a junction.
    """

    run: str
    depth: int
    line: int
    parent: int | None
    fuse: str
    cable: str
    sign: Sign | None
    name: str
    facts: str
    part: str


@dataclass(frozen=True, slots=True)
class Feeding:
    """A supply, its lines of facts, and its rows; ``lines_count`` is how many lines these take."""

    ident: str
    name: str
    facts: tuple[str, ...]
    has_battery: bool
    rows: tuple[Row, ...]
    lines_count: int
    depth: int


def feedings(walk: Walk) -> tuple[Feeding, ...]:
    """Return the supplies of a site in the order of their names."""
    supplies = sorted(walk.all(Supply), key=lambda supply: natural_key(supply.name))
    return tuple(_feeding(walk, supply) for supply in supplies)


def power_notes(walk: Walk) -> tuple[str, ...]:
    """Say which locks no supply feeds, and what this drawing never shows."""
    fed = {row.part for feeding in feedings(walk) for row in feeding.rows}
    loose = [door for door in walk.all(Door) if f"door:{door.id}" not in fed]
    notes = ["The mains side is not drawn: a licensed electrician plans it."]
    if loose:
        names = ", ".join(sorted((door.name for door in loose), key=natural_key))
        notes.insert(0, f"No run from a supply leads to {counted(len(loose), 'door')}: {names}.")
    return tuple(notes)


def _feeding(walk: Walk, supply: Supply) -> Feeding:
    rows: list[Row] = []
    lines_count = _grow(walk, supply.id, rows, depth=0, line=0, parent=None, seen=frozenset({supply.id}))
    depth = max((row.depth for row in rows), default=0)
    return Feeding(
        supply.id, supply.name, tuple(_facts(walk, supply)), supply.battery_ah is not None, tuple(rows), lines_count,
        depth,
    )  # fmt: skip


def _grow(
    walk: Walk, near: str, rows: list[Row], *, depth: int, line: int, parent: int | None, seen: frozenset[str]
) -> int:
    """Add the rows of everything that a supply or junction feeds and return the next free line."""
    for run in sorted(walk.runs_from(near), key=lambda run: (natural_key(run.name), run.id)):
        junction = walk.find(Junction, run.far)
        if junction is None:
            rows.append(_load(walk, run, depth, line, parent))
            line += 1
            continue
        loops = junction.id in seen
        place = where_is(walk, junction)
        facts = "in a ring" if loops else place
        rows.append(
            Row(
                run.id, depth, line, parent, _fuse(walk, run), f"{run.name} · {kind_and_length(run)}", None,
                junction.name, facts, f"junction:{junction.id}",
            )
        )  # fmt: skip
        below = line
        if not loops:
            below = _grow(
                walk, junction.id, rows, depth=depth + 1, line=line, parent=line, seen=seen | {junction.id}
            )  # fmt: skip
        line = max(below, line + 1)
    return line


def _load(walk: Walk, run: CableRun, depth: int, line: int, parent: int | None) -> Row:
    cable = f"{run.name} · {kind_and_length(run)}"
    fuse = _fuse(walk, run)
    sign: Sign | None
    match walk.part(run.far):
        case Door() as door:
            lock = door.lock.value if door.lock else "lock not chosen"
            escape = " · ESC" if door.escape_route else ""
            name = f"{door.name} · {lock}{escape}"
            sign, facts, part = lock_sign(door.fail_mode), ", ".join(_lock(door)), f"door:{door.id}"
        case Unit() as unit:
            name, sign, part = unit.name, _SIGN[unit.kind], f"unit:{unit.id}"
            facts = _draw(walk, unit)
        case Switch() as switch:
            name, sign, part = switch.name, Sign.SWITCH, f"switch:{switch.id}"
            facts = _draw(walk, switch)
        case Supply() as supply:
            name, sign, part, facts = supply.name, Sign.SUPPLY, "", "a supply fed by a supply"
        case None:
            name, sign, part, facts = "far end not in the plan", None, "", ""
        case other:
            name, sign, part, facts = name_of(walk, other), None, "", f"a {other.KIND}"
    return Row(run.id, depth, line, parent, fuse, cable, sign, name, facts, part)


def _lock(door: Door) -> Iterator[str]:
    yield "current not known" if door.lock_operate_a is None else f"{door.lock_operate_a:g} A"
    if door.lock_inrush_a is not None:
        yield f"inrush {door.lock_inrush_a:g} A"
    if door.lock_hold_a is not None:
        yield f"then {door.lock_hold_a:g} A"
    if door.lock_rated_v is not None:
        yield f"rated {door.lock_rated_v:g} V"
    yield "least voltage not known" if door.lock_minimum_v is None else f"at least {door.lock_minimum_v:g} V"


def _draw(walk: Walk, fed: Unit | Switch) -> str:
    profile, draw_w = walk.profile(fed.profile), converter_w(walk, fed)
    if profile is None or isinstance(draw_w, tuple):
        return "direct-current draw not known"
    least = f", at least {profile.dc_minimum_v:g} V" if profile.dc_minimum_v is not None else ""
    return f"{round(draw_w, 1):g} W{least}"


def _load_of(walk: Walk, supply: Supply, output_v: float | None) -> str:
    """Add up what a supply feeds, each lock energised, and say of how much the current is not known."""
    loads_a, unknown, waiting, seen = [], 0, [supply.id], {supply.id}
    while waiting:
        for run in walk.runs_from(waiting.pop()):
            fed = walk.part(run.far)
            load_a = None
            if isinstance(fed, Junction):
                waiting += [] if fed.id in seen else [fed.id]
                seen.add(fed.id)
                continue
            if isinstance(fed, Door):
                load_a = fed.lock_operate_a
            elif isinstance(fed, Unit | Switch) and output_v:
                draw_w = converter_w(walk, fed)
                load_a = None if isinstance(draw_w, tuple) else draw_w / output_v
            unknown += load_a is None
            loads_a += [] if load_a is None else [load_a]
    if not loads_a:
        return "load not known" if unknown else "feeds nothing in the plan"
    rest = f" and {counted(unknown, 'load')} not known" if unknown else ""
    return f"all its loads together {sum(loads_a):.3g} A{rest}"


def _fuse(walk: Walk, run: CableRun) -> str:
    if run.fuse_a is not None:
        return f"{run.fuse_a:g} A"
    supply = walk.find(Supply, run.near)
    profile = walk.profile(supply.profile) if supply else None
    if profile is not None and profile.output_fuse_a is not None:
        return f"{profile.output_fuse_a:g} A"
    return "" if supply is None else "?"


def _facts(walk: Walk, supply: Supply) -> Iterator[str]:
    profile = walk.profile(supply.profile)
    yield where_is(walk, supply) or "place not given"
    yield profile.title if profile else f"{supply.profile}: no profile"
    output_v = f"{profile.output_v:g} V" if profile and profile.output_v else "voltage not known"
    output_a = f"{profile.output_a:g} A" if profile and profile.output_a else "current not known"
    yield f"gives {output_v}, {output_a}"
    fuse_a = profile.output_fuse_a if profile else None
    yield _load_of(walk, supply, profile.output_v if profile else None)
    yield "fuse of the outputs not known" if fuse_a is None else f"fuse of each output {fuse_a:g} A"
    if supply.battery_ah is None:
        yield "no battery in the plan"
    else:
        rate = f" in {supply.battery_rate_h:g} h" if supply.battery_rate_h is not None else ""
        coldest_c = supply.battery_temperature_c
        cold = f", no colder than {coldest_c:g} °C" if coldest_c is not None else ""
        yield f"battery {supply.battery_ah:g} Ah{rate}{cold}"
    if supply.standby_h is not None:
        busy = f", {supply.standby_busy_h:g} h of them busy" if supply.standby_busy_h else ""
        yield f"to carry its loads {supply.standby_h:g} h{busy}"
    elif supply.battery_ah is not None:
        yield "hours of standby not given"
