"""The building's day, played visitor by visitor."""

from dataclasses import dataclass
from typing import Any, Final

from starlette.exceptions import HTTPException

from doorwright.app.means import Means
from doorwright.app.play_day import play_day
from doorwright.app.tell_day import Table, figures_of, tables_of
from doorwright.kernel.person import Role
from doorwright.model.label import natural_key
from doorwright.model.naming import where_is
from doorwright.model.place import Entrance
from doorwright.web.answers import Answer, Begun, Go, Page
from doorwright.web.asking import Ask, get, post
from doorwright.web.filled import Filled
from doorwright.web.showing import book_url
from doorwright.web.views.drawings import inline

DAYS_COUNT: Final = 400
DAYS_MOST: Final = 20_000
SEED: Final = 1
SEED_MOST: Final = 2**63 - 1
MORE_MOST: Final = 9
DESKS_MOST: Final = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class EntranceLine:
    """An entrance where a call unit more may be tried."""

    id: str
    name: str
    where: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DayForm:
    """What may be chosen, with what is usual."""

    revision: int
    days_count: int = DAYS_COUNT
    seed: int = SEED
    entrances: tuple[EntranceLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class DayView:
    """What the days gave."""

    revision: int
    tables: tuple[Table, ...]
    assumptions: tuple[str, ...]
    figures: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Kept:
    view: DayView
    svg: str


def page(ask: Ask) -> Answer:
    """Ask which days are to be played."""
    head, walk = ask.book.now()
    entrances = sorted(walk.all(Entrance), key=lambda one: natural_key(one.name))
    lines = tuple(EntranceLine(id=one.id, name=one.name, where=where_is(walk, one)) for one in entrances)
    return Page(template="day/day.html", title="Day", view=DayForm(revision=head.number, entrances=lines))


def play(ask: Ask) -> Answer:
    """Play the days."""
    _, walk = ask.book.now()
    entrances = walk.all(Entrance)
    filled = Filled(ask, {"days": "Days", "seed": "Seed", "desks": "More desks"})
    days_count = filled.whole("days", default=DAYS_COUNT, least=2, most=DAYS_MOST)
    seed = filled.whole("seed", default=SEED, least=0, most=SEED_MOST)
    desks_count = filled.whole("desks", default=0, least=0, most=DESKS_MOST)
    more_at: list[str] = []
    for entrance in entrances:
        more_count = filled.whole(f"more-{entrance.id}", default=0, least=0, most=MORE_MOST)
        more_at += [entrance.name] * more_count
    filled.see("no day was played")
    book = ask.book

    def work(means: Means) -> Go:
        made = play_day(
            book.path,
            means,
            days_count=days_count,
            seed=seed,
            more_at=tuple(more_at),
            more_desks_count=desks_count,
        )
        view = DayView(
            revision=made.revision, tables=tables_of(made), assumptions=made.assumptions, figures=figures_of(made)
        )
        key = book.makings.keep(_Kept(view=view, svg=made.drawing.svg))
        return Go(book_url(book.name, "day", key))

    return Begun(ask.jobs.start("Playing the day", book.name, work, ask.means))


def result(ask: Ask) -> Answer:
    """Show what the days gave."""
    try:
        kept = ask.book.makings.result(ask.path["result"], _Kept)
    except LookupError as error:
        raise HTTPException(404, str(error)) from None
    return Page(template="day/result.html", title="Day played", view=kept.view, facts={"svg": inline(kept.svg)})


ROUTES: Final = (
    *get("/books/{book}/day", page),
    *post("/books/{book}/day", play, needs=Role.WORK),
    *get("/books/{book}/day/{result}", result),
)
