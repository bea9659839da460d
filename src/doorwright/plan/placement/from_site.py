"""The question where switches go, read from a site: what is known is taken, what is missing is told all at once."""

from collections.abc import Iterable
from dataclasses import dataclass
from math import floor

from doorwright.calc import cabling
from doorwright.calc.cable import cable_kinds
from doorwright.kernel.errors import Refused
from doorwright.model.label import natural_key
from doorwright.model.place import PlaceKind
from doorwright.model.profile import Profile
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.placement.in_use import InUse, drawn_w, lacks_of, type_of
from doorwright.plan.placement.lacking import Lacking, first_of
from doorwright.plan.placement.names import Names
from doorwright.plan.placement.pricing import priced
from doorwright.plan.placement.problem import Cupboard, Demand, Problem
from doorwright.plan.placement.routes import CM
from doorwright.plan.placement.spots import Spots, cupboards_of


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What the user asks for: the switches that may be bought, the cables, and where switches may feed others.

    ``distributes`` are identifiers of places.
    """

    profiles: tuple[Profile, ...]
    cable: str
    uplink_cable: str
    optical_cable: str
    distributes: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """The question, the names in it, and what a reader should know of how it was read."""

    problem: Problem
    names: Names
    wish: Wish
    unpriced: tuple[str, ...]
    notes: tuple[str, ...]


def question_of(walk: Walk, wish: Wish) -> Question:
    """Read the question from a site.

    Units are wherever their dwelling is, else their place; spare ports and spare power are the site's
    ``spare_ratio``. Switches and runs that are there stay as they are.

    Raises:
        Refused: facts are missing or contradict each other; all of them are told.
    """
    names = Names(walk)
    lacking = Lacking()
    spots = Spots(walk, names, lacking)
    places = cupboards_of(walk)
    if not places:
        remedy = "Add places of the kind riser cupboard, or say how many switches a place takes."
        lacking.add("places", "there is nowhere to put a switch", remedy, walk.settings().name or "the site")
    for ident in wish.distributes - set(places):
        remedy = "Say how many switches it takes in the workbook, sheet Places, or leave it out."
        lacking.add("places", "this is no cupboard, so no switch of it can feed others", remedy, names.of(ident))
    units = sorted(walk.all(Unit), key=lambda one: natural_key(names.of(one.id)))
    demands = []
    for unit in units:
        spot, power_w = spots.of_unit(unit), drawn_w(walk, unit, lacking)
        if spot is not None:
            demands.append(Demand(key=names.of(unit.id), spot=spot, power_w=power_w))
    in_use = InUse(walk, names, places, lacking)
    root = in_use.root() if places else None
    feeds = any(one.power_w for one in demands)
    existing = in_use.existing(root, feeds=feeds)
    cupboards = []
    for place in sorted(places.values(), key=lambda one: natural_key(names.of(one.id))):
        spot = spots.of_cupboard(place)
        if spot is not None:
            key = names.of(place.id)
            there_count = sum(one.cupboard == key for one in existing)
            takes_none = place.kind is not PlaceKind.RISER_CUPBOARD and not place.main
            room_count = there_count if place.switches_max_count is None and takes_none else place.switches_max_count
            cupboards.append(
                Cupboard(key=key, spot=spot, room_count=room_count, distributes=place.id in wish.distributes)
            )
    sold = [type_of(one) for one in wish.profiles if not lacks_of(one, lacking, feeds=feeds)]
    routes = spots.routes(link_max_m=_warm_limit_m(walk, wish))
    mistakes = lacking.mistakes()
    if mistakes or root is None:
        raise Refused("Switches cannot be placed yet: facts are missing.", mistakes=mistakes)
    offered = {one.key for one in sold}
    cost = priced(
        walk,
        (*sold, *(one for key, one in in_use.types.items() if key not in offered)),
        cable=wish.cable,
        uplink_cable=wish.uplink_cable,
        optical_cable=wish.optical_cable,
    )
    spare_ratio = walk.settings().choices.spare_ratio
    problem = Problem(
        cupboards=tuple(cupboards),
        demands=tuple(demands),
        types=cost.types,
        routes=routes,
        root=root,
        existing=existing,
        prices=cost.prices,
        spare_ports_ratio=spare_ratio,
        spare_power_ratio=spare_ratio,
    )
    notes = (*_at_riser(spots.at_riser), *_warm(walk, routes.link_max_m), *cost.notes)
    return Question(problem=problem, names=names, wish=wish, unpriced=cost.unpriced, notes=notes)


def _warm_limit_m(walk: Walk, wish: Wish) -> float:
    """Return how long a copper link may be at the warmest that the cables get, in whole centimetres."""
    choices = walk.settings().choices
    kinds = cable_kinds()
    limit_m = min(
        cabling.warm_link_m(
            reference_m=choices.link_max_m, temperature_c=choices.ambient_c, screened=kinds[key].screened
        )
        for key in (wish.cable, wish.uplink_cable)
    )
    return floor(limit_m * CM) / CM


def _warm(walk: Walk, limit_m: float) -> tuple[str, ...]:
    choices = walk.settings().choices
    if limit_m >= choices.link_max_m:
        return ()
    return (f"A copper link may have {limit_m:g} m at {choices.ambient_c:g} °C, {choices.link_max_m:g} m at 20 °C.",)


def _at_riser(cupboards: Iterable[str]) -> tuple[str, ...]:
    named = tuple(cupboards)
    if not named:
        return ()
    return (f"No run from the riser is given of {first_of(named)}: riser cupboards were taken to stand at the riser.",)
