"""Which switches in which cupboards, and the cables from them: proposed first, then taken over."""

from dataclasses import dataclass, replace
from typing import Final

from starlette.exceptions import HTTPException

from doorwright.app.means import Means
from doorwright.app.place_switches import Asked, NewRun, NewSwitch, PlacedSwitches, place_switches, worth
from doorwright.calc.cable import CableUse, cable_kinds
from doorwright.kernel.errors import Refused
from doorwright.kernel.person import Role
from doorwright.kernel.words import counted_all
from doorwright.model.label import natural_key
from doorwright.model.naming import where_is
from doorwright.model.network import Switch
from doorwright.model.place import Place, PlaceKind
from doorwright.model.profile import ProfileKind
from doorwright.plan.draft import Trouble
from doorwright.web.answers import Answer, Begun, Go, Page
from doorwright.web.asking import Ask, get, post
from doorwright.web.filled import Filled
from doorwright.web.opened import OpenBook
from doorwright.web.paging import Piece, piece, start_of
from doorwright.web.showing import book_url

SEARCH_S: Final = 20.0
SEARCH_MOST_S: Final = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class TypeLine:
    """A type of switch that may be bought; ``kept`` says that the book keeps its data sheet."""

    key: str
    title: str
    kept: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class CableLine:
    """A cable that may be chosen."""

    key: str
    title: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CupboardLine:
    """A place that may hold switches."""

    name: str
    where: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacesForm:
    """What may be chosen."""

    revision: int
    switches_count: int
    search_s: float = SEARCH_S
    types: tuple[TypeLine, ...]
    cables: tuple[CableLine, ...]
    cupboards: tuple[CupboardLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacesView:
    """A proposal, or what was taken over: switches with reasons, runs, and how good it is known to be."""

    revision: int
    saved: bool
    is_newest: bool
    heading: str
    switches: tuple[NewSwitch, ...]
    uplinks: tuple[NewRun, ...]
    runs: Piece[NewRun]
    cable_m: dict[str, float]
    kept_switches_count: int
    kept_runs_count: int
    moved: dict[str, str]
    worth: tuple[str, ...]
    made_by: str
    unpriced: tuple[str, ...]
    notes: tuple[str, ...]
    troubles: tuple[Trouble, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kept:
    asked: Asked
    seen_revision: int
    placed: PlacedSwitches


def page(ask: Ask) -> Answer:
    """Ask what may be bought and how cables may go."""
    head, walk = ask.book.now()
    own = {one.key for one in walk.settings().profiles}
    known = {**ask.means.profiles(), **{one.key: one for one in walk.settings().profiles}}
    switches = sorted(
        (one for one in known.values() if one.kind is ProfileKind.SWITCH),
        key=lambda one: (one.key not in own, natural_key(one.key)),
    )
    holders = {switch.place for switch in walk.all(Switch)}
    cupboards = sorted(
        (one for one in walk.all(Place) if one.kind is PlaceKind.RISER_CUPBOARD or one.id in holders),
        key=lambda one: natural_key(one.name),
    )
    view = PlacesForm(
        revision=head.number,
        switches_count=len(walk.site.switches),
        types=tuple(TypeLine(key=one.key, title=one.title, kept=one.key in own) for one in switches),
        cables=tuple(
            CableLine(key=key, title=kind.title) for key, kind in cable_kinds().items() if kind.use is CableUse.DATA
        ),
        cupboards=tuple(CupboardLine(name=one.name, where=where_is(walk, one)) for one in cupboards),
    )
    return Page(template="places/places.html", title="Switch places", view=view)


def propose(ask: Ask) -> Answer:
    """Begin to look for the best places; nothing is saved."""
    filled = Filled(ask, {"search": "Search"})
    search_s = filled.number("search", default=SEARCH_S, least=0.0, most=SEARCH_MOST_S)
    filled.see("nothing was proposed")
    asked = Asked(
        types=ask.texts("types"),
        cable=ask.text("cable") or None,
        uplink_cable=ask.text("uplink_cable") or None,
        distributes=ask.texts("distribute"),
        seconds=search_s,
        may_move=ask.chosen("may_move"),
    )
    book, seen_revision = ask.book, ask.book.now()[0].number

    def work(means: Means) -> Go:
        placed = place_switches(book.path, means, asked, dry_run=True)
        return _kept(book, _Kept(asked=asked, seen_revision=seen_revision, placed=placed))

    return Begun(ask.jobs.start("Looking for the places of switches", book.name, work, ask.means))


def take(ask: Ask) -> Answer:
    """Take a proposal over: the same search again, and its result saved."""
    proposal, book = _found(ask), ask.book
    _see_unchanged(proposal, book)

    def work(means: Means) -> Go:
        _see_unchanged(proposal, book)
        placed = place_switches(book.path, means, proposal.asked)
        book.changed()
        return _kept(book, replace(proposal, placed=placed))

    return Begun(ask.jobs.start("Placing the switches", book.name, work, ask.means))


def result(ask: Ask) -> Answer:
    """Show a proposal, or what was taken over."""
    kept = _found(ask)
    placed, walk = kept.placed, ask.book.now()[1]
    counts = {"new switch": len(placed.switches), "new cable run": len(placed.runs) + len(placed.uplinks)}
    new = counted_all({what: count for what, count in counts.items() if count})
    view = PlacesView(
        revision=placed.revision,
        saved=placed.saved,
        is_newest=ask.book.now()[0].number == kept.seen_revision,
        heading=new or "Every unit has its cable and every switch its uplink; nothing moved.",
        switches=placed.switches,
        uplinks=placed.uplinks,
        runs=piece(placed.runs, start_of(ask)),
        cable_m=placed.cable_m,
        kept_switches_count=placed.kept_switches_count,
        kept_runs_count=placed.kept_runs_count,
        moved=placed.moved,
        worth=tuple(worth(aim, walk.settings().currency or "") for aim in placed.aims),
        made_by=placed.made_by,
        unpriced=placed.unpriced,
        notes=placed.notes,
        troubles=placed.troubles,
    )
    title = "Switches placed" if placed.saved else "Proposed places"
    return Page(template="places/result.html", title=title, view=view)


def _found(ask: Ask) -> _Kept:
    try:
        return ask.book.makings.result(ask.path["result"], _Kept)
    except LookupError as error:
        raise HTTPException(404, str(error)) from None


def _kept(book: OpenBook, kept: _Kept) -> Go:
    return Go(book_url(book.name, "places", book.makings.keep(kept)))


def _see_unchanged(proposal: _Kept, book: OpenBook) -> None:
    now = book.now()[0].number
    if now != proposal.seen_revision:
        raise Refused(
            f"revision {now} was saved since these places were proposed for revision {proposal.seen_revision}",
            remedy="Have them proposed again, look, and take that over.",
        )


ROUTES: Final = (
    *get("/books/{book}/places", page),
    *post("/books/{book}/places", propose, needs=Role.PLAN),
    *get("/books/{book}/places/{result}", result),
    *post("/books/{book}/places/{result}/take", take, needs=Role.PLAN),
)
