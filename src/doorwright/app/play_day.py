"""Play the building's day many times over, and the same days with more call units or desks."""

from dataclasses import dataclass
from pathlib import Path

from doorwright.app.means import Means
from doorwright.day.days import Played, play_days
from doorwright.kernel.errors import Refused
from doorwright.kernel.words import counted
from doorwright.model.label import natural_key
from doorwright.model.place import Entrance
from doorwright.model.walk import Walk
from doorwright.render.svg import Drawing
from doorwright.render.svg.hours_chart import hours_chart
from doorwright.store.book import Book
from doorwright.store.files import write_whole
from doorwright.studies.day_building import day_building


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PlayedDay:
    """The days of one revision, their hours drawn; with ``other`` those of the design that ``other_words`` tells."""

    revision: int
    seed: int
    played: Played
    assumptions: tuple[str, ...]
    other: Played | None
    other_words: str
    drawing: Drawing
    files: tuple[Path, ...]


def play_day(
    book_path: Path,
    means: Means,
    *,
    days_count: int,
    seed: int,
    more_at: tuple[str, ...] = (),
    more_desks_count: int = 0,
    out: Path | None = None,
) -> PlayedDay:
    """Play the days of the latest revision; with ``out``, draw them there.

    Args:
        book_path: the book.
        means: the world.
        days_count: days to play; more give narrower intervals.
        seed: of all chance: the same seed gives the same visitors to both designs, and the same answer each time.
        more_at: names of entrances that get one call unit more in the other design; a name given twice gets two.
        more_desks_count: positions of the desk that the other design has more.
        out: an SVG file.

    Raises:
        Refused: the book cannot be read, an entrance is not there, there is nothing to play, or the file cannot be
            written or is no ``.svg``.
    """
    if out is not None and out.suffix.lower() != ".svg":
        raise Refused(f"{out} is no SVG file", remedy="Give a name that ends with .svg.")
    with Book.open(book_path, read_only=True) as book:
        revision = book.head()
        walk = Walk(book.site(revision.number))
    more_units: dict[str, int] = {}
    for name in more_at:
        entrance = _entrance(walk, name)
        more_units[entrance.id] = more_units.get(entrance.id, 0) + 1
    plan = day_building(walk)
    if plan is None:
        raise Refused(
            "there is no day to play: no visitor call unit calls any dwelling",
            remedy="Enter entrances with their call units and whom they serve, then give the command again.",
        )
    means.progress(f"playing {counted(days_count, 'day')}")
    goal_s = walk.settings().habits.desk_wait_s
    played = play_days(plan.building, days_count=days_count, seed=seed, desk_goal_s=goal_s)
    other = None
    if more_units or more_desks_count:
        changed = day_building(walk, more_units=more_units, more_positions_count=more_desks_count)
        if changed is not None:
            means.progress("playing the same days in the other design")
            other = play_days(changed.building, days_count=days_count, seed=seed, desk_goal_s=goal_s)
    drawing = hours_chart(played, walk, revision=str(revision.number), on=f"{revision.made_at:%Y-%m-%d}", seed=seed)
    files: tuple[Path, ...] = ()
    if out is not None:
        write_whole(out, drawing.svg.encode())
        files = (out,)
    return PlayedDay(
        revision=revision.number,
        seed=seed,
        played=played,
        assumptions=plan.assumptions,
        other=other,
        other_words=_other_words(walk, more_units, more_desks_count),
        drawing=drawing,
        files=files,
    )


def _entrance(walk: Walk, name: str) -> Entrance:
    found = [entrance for entrance in walk.all(Entrance) if entrance.name.casefold() == name.strip().casefold()]
    if len(found) != 1:
        names = ", ".join(sorted((entrance.name for entrance in walk.all(Entrance)), key=natural_key))
        problem = f"{len(found)} entrances are called {name!r}" if found else f"no entrance is called {name!r}"
        raise Refused(problem, remedy=f"Entrances: {names or 'none'}.")
    return found[0]


def _other_words(walk: Walk, more_units: dict[str, int], more_desks_count: int) -> str:
    words = [
        f"{counted(count, 'call unit')} more at {walk.get(Entrance, ident).name}" for ident, count in more_units.items()
    ]
    if more_desks_count:
        words.append(f"{counted(more_desks_count, 'desk')} more")
    return " and ".join(words)
