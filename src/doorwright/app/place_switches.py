"""Place switches in a book's cupboards, with the cables to units and between switches, and save it as a revision."""

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from pathlib import Path
from typing import Final

from doorwright.app.means import Means
from doorwright.calc.cable import CableUse, cable_kinds
from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.words import counted
from doorwright.model.change import apply
from doorwright.model.label import natural_key
from doorwright.model.naming import where_is
from doorwright.model.network import CableRun, Switch
from doorwright.model.place import Place
from doorwright.model.profile import Profile, ProfileKind
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.draft import Trouble
from doorwright.plan.placement import Aim, Impossible, Placement, Status, place
from doorwright.plan.placement.drafting import Drafted, draft_placement
from doorwright.plan.placement.from_site import Question, Wish, question_of
from doorwright.plan.ports import plan_ports
from doorwright.store.book import Book

CABLE: Final = "cat6"
_PATIENCE: Final = 2
"""The search counts its own work; a machine so many times slower than usual is stopped by the clock."""
_REASONS_MOST_COUNT: Final = 12
_DISTRIBUTE: Final = (
    " Where uplinks are too long or too many for the root, let a cupboard on the way feed others: --distribute."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the user asks for. Profiles and cables by key, cupboards by name; what is empty follows the book."""

    types: tuple[str, ...] = ()
    cable: str | None = None
    uplink_cable: str | None = None
    distributes: tuple[str, ...] = ()
    seconds: float = 20.0
    may_move: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class NewSwitch:
    """A switch that is new: its name and type, where it is, how many units it feeds, and why it is there."""

    name: str
    type: str
    where: str
    units_count: int
    why: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class NewRun:
    """A cable run that is new, from a port of a switch to a unit or to a port of another switch."""

    name: str
    switch: str
    port: int | None
    to: str
    to_port: int | None
    cable: str
    length_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedSwitches:
    """What placing gave. ``saved`` is false in a dry run and where nothing was wanting.

    ``aims`` tell what was made small, and what no plan can go below; ``cable_m`` sums new cable of each kind.
    """

    revision: int
    saved: bool
    switches: tuple[NewSwitch, ...]
    runs: tuple[NewRun, ...]
    uplinks: tuple[NewRun, ...]
    kept_switches_count: int
    kept_runs_count: int
    moved: dict[str, str]
    cable_m: dict[str, float]
    cost: Decimal | None
    currency: str | None
    unpriced: tuple[str, ...]
    aims: tuple[Aim, ...]
    status: Status
    gap_ratio: float
    made_by: str
    notes: tuple[str, ...]
    troubles: tuple[Trouble, ...]


def place_switches(book_path: Path, means: Means, asked: Asked, *, dry_run: bool = False) -> PlacedSwitches:
    """Place switches and lay cables wherever a unit has none; what is there stays.

    Raises:
        Refused: what is asked for is not known, facts are missing, there is no such plan, or there is none in which all
            cables stay and ``may_move`` was not asked for. Nothing is changed.
    """
    with Book.open(book_path, read_only=dry_run) as book:
        parent = book.head().number
        before = Walk(book.site(parent))
        question = question_of(before, _wish(before, asked, means))
        means.progress("placing switches")
        latest = means.now() + timedelta(seconds=_PATIENCE * asked.seconds)
        plan = place(question.problem, effort_s=asked.seconds, stop=lambda: means.now() > latest)
        if isinstance(plan, Impossible):
            raise _refusal(plan, distributing=bool(asked.distributes))
        if plan.moved and not asked.may_move:
            raise _would_move(plan)
        drafted = draft_placement(before, question, plan, means.new_id)
        placed = Walk(apply(before.site, drafted.edit.changes)) if drafted.edit.changes else before
        ports = plan_ports(placed) if drafted.edit.changes else None
        after = Walk(apply(placed.site, ports.changes)) if ports is not None else before
        revision = parent
        if not dry_run:
            means.progress("saving")
            message = drafted.edit.message
            revision = book.save(after.site, parent=parent, by=means.who, at=means.now(), message=message).number
    troubles = ports.troubles if ports is not None else ()
    return _told(after, question, plan, drafted, troubles=troubles, revision=revision, saved=revision != parent)


def _wish(walk: Walk, asked: Asked, means: Means) -> Wish:
    """Find what is asked for by name.

    Raises:
        Refused: something is not known; everything is told.
    """
    mistakes: list[Mistake] = []
    profiles = _profiles(walk, asked.types, means, mistakes)
    kinds = cable_kinds()
    data = [key for key, kind in kinds.items() if kind.use is CableUse.DATA]
    for option, key in (("--cable", asked.cable), ("--uplink-cable", asked.uplink_cable)):
        if key is not None and key not in data:
            problem, remedy = "this is no cable for data", f"Cables: {', '.join(data)}."
            mistakes.append(Mistake(where=option, read=key, problem=problem, remedy=remedy))
    by_name = {one.name.casefold(): one for one in walk.all(Place)}
    for name in asked.distributes:
        if name.casefold() not in by_name:
            problem, remedy = "no place has this name", "Name places as doorwright show tells them."
            mistakes.append(Mistake(where="--distribute", read=name, problem=problem, remedy=remedy))
    if mistakes:
        raise Refused("what is asked for could not be found", mistakes=tuple(mistakes))
    cable = asked.cable or _usual(walk, Unit, data) or CABLE
    return Wish(
        profiles=profiles,
        cable=cable,
        uplink_cable=asked.uplink_cable or _usual(walk, Switch, data) or cable,
        optical_cable=next(key for key, kind in kinds.items() if kind.use is CableUse.OPTICAL),
        distributes=frozenset(by_name[name.casefold()].id for name in asked.distributes),
    )


def _profiles(walk: Walk, keys: Sequence[str], means: Means, mistakes: list[Mistake]) -> tuple[Profile, ...]:
    known = {**means.profiles(), **{profile.key: profile for profile in walk.settings().profiles}}
    switches = {key: profile for key, profile in known.items() if profile.kind is ProfileKind.SWITCH}
    if not keys:
        own = [one for one in walk.settings().profiles if one.kind is ProfileKind.SWITCH]
        if own:
            return tuple(own)
        problem = "the book has no profile of a switch, so it is not known which may be bought"
        remedy = f"Give one or several, such as --types {','.join(sorted(switches, key=natural_key)) or 'KEY'}."
        mistakes.append(Mistake(where="--types", read="", problem=problem, remedy=remedy))
    for key in keys:
        if key not in switches:
            remedy = f"Profiles of switches: {', '.join(sorted(switches, key=natural_key))}."
            mistakes.append(Mistake(where="--types", read=key, problem="this is no profile of a switch", remedy=remedy))
    return tuple(switches[key] for key in dict.fromkeys(keys) if key in switches)


def _usual(walk: Walk, far: type[Unit | Switch], data: Iterable[str]) -> str | None:
    """Return the cable that most runs to such parts have."""
    allowed = set(data)
    used = Counter(
        run.cable for run in walk.all(CableRun) if run.cable in allowed and walk.find(far, run.far) is not None
    )
    return max(used, key=lambda key: (used[key], key or ""), default=None)


def _refusal(plan: Impossible, *, distributing: bool) -> Refused:
    how = "There is no way to place the switches" if plan.proven else "No way to place the switches was found"
    reasons = [f"{reason[0].upper()}{reason[1:].rstrip('.')}." for reason in plan.reasons]
    more_count = len(reasons) - _REASONS_MOST_COUNT
    more = [f"And {counted(more_count, 'reason')} more."] if more_count > 0 else []
    return Refused(
        "\n".join((f"{how}.", *reasons[:_REASONS_MOST_COUNT], *more)),
        remedy=plan.remedy + ("" if distributing else _DISTRIBUTE),
    )


def _would_move(plan: Placement) -> Refused:
    remedy = "Correct the cable run or the profile where they are wrong."
    mistakes = tuple(
        Mistake(where=unit, read="", problem=f"its cable cannot stay: {reason}", remedy=remedy)
        for unit, reason in plan.moved.items()
    )
    return Refused(
        f"Not all cables can stay: {counted(len(plan.moved), 'unit')} would have to be cabled anew.",
        remedy="To have them cabled anew, give --move.",
        mistakes=mistakes,
    )


def _told(
    after: Walk,
    question: Question,
    plan: Placement,
    drafted: Drafted,
    *,
    troubles: Sequence[Trouble],
    revision: int,
    saved: bool,
) -> PlacedSwitches:
    uplinks = tuple(_run(after, run) for run in drafted.uplinks.values())
    runs = tuple(_run(after, run) for run in drafted.runs.values())
    cable_m: Counter[str] = Counter()
    for run in (*uplinks, *runs):
        cable_m[run.cable] += round(100 * run.length_m)
    fed = Counter(run.switch for run in plan.runs)
    return PlacedSwitches(
        revision=revision,
        saved=saved,
        switches=tuple(
            NewSwitch(
                name=switch.name,
                type=switch.profile,
                where=where_is(after, switch),
                units_count=fed[key],
                why=plan.why[key],
            )
            for key, switch in drafted.switches.items()
        ),
        runs=runs,
        uplinks=uplinks,
        kept_switches_count=sum(not one.new for one in plan.switches),
        kept_runs_count=sum(not run.new for run in plan.runs),
        moved=dict(plan.moved),
        cable_m={kind: length_cm / 100 for kind, length_cm in cable_m.items()},
        cost=plan.cost,
        currency=after.settings().currency,
        unpriced=question.unpriced,
        aims=plan.aims,
        status=plan.status,
        gap_ratio=plan.gap_ratio,
        made_by=plan.made_by,
        notes=(*question.notes, *plan.notes),
        troubles=tuple(troubles),
    )


def _run(after: Walk, run: CableRun) -> NewRun:
    laid = after.get(CableRun, run.id)
    far = after.part(laid.far)
    return NewRun(
        name=laid.name,
        switch=after.get(Switch, laid.near).name,
        port=laid.near_port,
        to=far.label if far is not None else "",
        to_port=laid.far_port,
        cable=laid.cable or "",
        length_m=laid.length_m or 0.0,
    )


def worth(aim: Aim, currency: str) -> str:
    """Say what was reached of an aim, and how much better a plan could be at most."""
    unit = {"cost": f" {currency}".rstrip(), "cable": " m"}.get(aim.what, "")
    decimals = 0 if aim.value == aim.value.to_integral_value() and not unit else 2
    value, bound = f"{aim.value:,.{decimals}f}{unit}", f"{aim.bound:,.{decimals}f}{unit}"
    what = f"{aim.what[0].upper()}{aim.what[1:]}"
    if aim.value == aim.bound:
        return f"{what}: {value}; no plan has less."
    return f"{what}: {value}; no plan has less than {bound}, so at most {aim.gap_ratio:.2%} could be saved."
