"""The building: its drawing is the way around the book."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, Final
from weakref import WeakKeyDictionary

from markupsafe import Markup

from doorwright.app.by_part import ByPart, by_part
from doorwright.kernel.verdict import Severity
from doorwright.model.label import natural_key
from doorwright.model.naming import titled
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level, Place
from doorwright.model.site import PARTS
from doorwright.model.walk import Walk
from doorwright.render.svg.house import House, contents_for_screen, house, sign_ids
from doorwright.render.svg.riser_contents import Contents
from doorwright.web.answers import Answer, Page, Said
from doorwright.web.asking import Ask, get
from doorwright.web.opened import Judged, OpenBook
from doorwright.web.views.onward import OnwardView, onward_of

_LATEST_COUNT: Final = 4
_SAID: Final[WeakKeyDictionary[OpenBook, tuple[Judged, ByPart]]] = WeakKeyDictionary()
_HOLDERS: Final = ("dwelling", "entrance", "place", "unit", "far", "owner")
"""Fields by which a part says what it belongs to, the nearest first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildingLine:
    """A building of the site, to choose from."""

    id: str
    name: str
    dwellings_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisionLine:
    """A revision, in a line."""

    number: int
    made_at: str
    made_by: str
    message: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawingView:
    """One building as drawn, and the worst finding on each part that it shows. ``chosen`` is the part that is open."""

    buildings: tuple[BuildingLine, ...]
    house: House
    worst: Mapping[str, Severity]
    judged: bool
    chosen: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BuildingView:
    """The site in figures, the way on, its latest revisions, and the drawing of one building."""

    site: str
    revision: int
    counts: Mapping[str, int]
    onward: OnwardView
    latest: tuple[RevisionLine, ...]
    drawing: DrawingView


def page(ask: Ask) -> Answer:
    """Show the building."""
    head, walk = ask.book.now()
    revisions = ask.book.book.revisions()
    view = BuildingView(
        site=walk.site.name or ask.book.name,
        revision=head.number,
        counts={kind.KIND: len(walk.site.table(kind)) for kind in PARTS if walk.site.table(kind)},
        onward=onward_of(ask.book),
        latest=tuple(
            RevisionLine(
                number=one.number,
                made_at=f"{one.made_at:%Y-%m-%d %H:%M}",
                made_by=one.made_by,
                message=one.message,
            )
            for one in reversed(revisions[-_LATEST_COUNT:])
        ),
        drawing=drawing_of(ask.book, walk, building=ask.text("building"), stretch=ask.whole("stretch", 0) or 0),
    )
    return Page(template="building/building.html", title=view.site, view=view, part="house", facts=drawing_facts())


def marks(ask: Ask) -> Answer:
    """Tell the worst finding on each part, or on those of one drawn building, as soon as the rules have looked."""
    judged = ask.book.judged() or ask.book.judge_now()
    said = said_by_part(ask.book) or by_part(judged.walk, judged.assessment)
    worst = said.worst
    drawn = _house(judged.walk, ask.text("building"), ask.whole("stretch", 0) or 0) if ask.text("building") else None
    if drawn is not None:
        worst = {part.id: worst[part.id] for part in drawn.parts if part.id in worst}
    return Said({"revision": judged.revision, "worst": worst})


def drawing_facts() -> Mapping[str, Any]:
    """Return what the template of the drawing needs beside its view: the shapes of the signs."""
    return {"signs": _signs()}


def drawing_of(
    book: OpenBook, walk: Walk, *, building: str = "", stretch: int | None = None, chosen: str = ""
) -> DrawingView:
    """Return the drawing of a building, or of the one and the stretch in which a part stands."""
    contents = _contents(walk)
    lines = tuple(
        sorted(
            (
                BuildingLine(
                    id=panel.building,
                    name=titled(Building.KIND, panel.name),
                    dwellings_count=sum(len(cell.homes) for cell in panel.cells.values()),
                )
                for panel in contents.panels
            ),
            key=lambda line: natural_key(line.name),
        )
    )
    first = lines[0].id if lines else ""
    wanted = building if any(line.id == building for line in lines) else building_around(walk, chosen) or first
    drawn = _house(walk, wanted, stretch or 0) or _house(walk, first, 0)
    if drawn is None:
        raise LookupError("a site without any building is drawn as its strip")
    if stretch is None and chosen:
        drawn = _stretch_with(walk, drawn, chosen)
    shown = {part.id for part in drawn.parts}
    said = said_by_part(book)
    worst = said.worst if said is not None else {}
    return DrawingView(
        buildings=lines,
        house=drawn,
        worst={ident: severity for ident, severity in worst.items() if ident in shown},
        judged=said is not None,
        chosen=chosen,
    )


def building_around(walk: Walk, ident: str) -> str:
    """Return the building in which a part stands, empty where it stands in none."""
    part: Any = walk.part(ident)
    for _ in range(6):
        match part:
            case None:
                return ""
            case Building():
                return part.id
            case Core() | Level():
                return part.building
            case Dwelling():
                part = walk.find(Core, part.core)
            case Place():
                part = walk.find(Level, part.level) or walk.find(Core, part.core) or walk.find(Building, part.building)
            case Entrance():
                part = walk.find(Place, part.place)
            case _:
                held = (getattr(part, field, None) for field in _HOLDERS)
                part = next((found for one in held if one and (found := walk.part(one)) is not None), None)
    return ""


def _stretch_with(walk: Walk, drawn: House, chosen: str) -> House:
    """Return the stretch of a large building in which the chosen part, or what it belongs to, is drawn."""
    for stretch in range(len(drawn.stretches)):
        other = _house(walk, drawn.building, stretch)
        if other is not None and any(part.id == chosen for part in other.parts):
            return other
    return drawn


def said_by_part(book: OpenBook) -> ByPart | None:
    """Return what the rules say of each part of the newest revision, None while they are still looking."""
    judged = book.judged()
    if judged is None:
        return None
    known = _SAID.get(book)
    if known is None or known[0] is not judged:
        known = _SAID[book] = (judged, by_part(judged.walk, judged.assessment))
    return known[1]


@lru_cache(maxsize=4)
def _contents(walk: Walk) -> Contents:
    return contents_for_screen(walk)


@lru_cache(maxsize=16)
def _house(walk: Walk, building: str, stretch: int) -> House | None:
    return house(walk, _contents(walk), building, stretch)


@lru_cache(maxsize=1)
def _signs() -> Mapping[str, Markup]:
    return {ident: Markup(shapes) for ident, shapes in sign_ids().items()}  # noqa: S704  (our own shapes, no input)


ROUTES: Final = (
    *get("/books/{book}/marks.json", marks, twin=False),
    *get("/books/{book}", page),
)
