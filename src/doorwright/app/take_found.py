"""Take in what was found in the building from a settings table, and set it and the rehearsal beside the plan."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from doorwright.app.means import Means
from doorwright.app.three_sides import Line, Rehearsal, beside_plan, lines_of
from doorwright.kernel.errors import Refused
from doorwright.kernel.observation import Observation, Seen, Stage, what_counts
from doorwright.kernel.trail import Act
from doorwright.kernel.words import counted
from doorwright.model.aspect import Aspect, answered_at
from doorwright.model.label import natural_key
from doorwright.model.naming import where_is
from doorwright.model.network import Switch
from doorwright.model.rehearsed import kept_of
from doorwright.model.site import Site
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rules.differences import Difference, differences
from doorwright.rules.strangers import Stranger, strangers
from doorwright.store.book import Book
from doorwright.store.found import (
    FoundTable,
    Sighting,
    UnreadColumn,
    columns_from,
    guess,
    headings_of,
    read_found,
    suggestion,
)
from doorwright.store.record import ColumnMap
from doorwright.store.workbook.grid import read_grids
from doorwright.store.workbook.layout import is_secret_heading
from doorwright.store.workbook.report import Remark


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenFound:
    """What came of a settings table: when it was seen, how much it says, how much of that is new, what was not read."""

    column_map: str
    seen_at: datetime
    values_count: int
    new_count: int
    parts_count: int
    strangers_count: int
    unread: tuple[UnreadColumn, ...]
    remarks: tuple[Remark, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """What was found and what was rehearsed beside the plan.

    Attributes:
        revision: of the plan.
        parts_count: how many units and switches it has.
        seen_count: how many of them were found.
        differences: what was found otherwise than planned, each with where its part is.
        strangers: what was found and is in no plan.
        seen: all that was found.
        rehearsal: the latest rehearsal that the book keeps, None where it keeps none.
    """

    revision: int
    parts_count: int
    seen_count: int
    differences: tuple[tuple[Difference, str], ...]
    strangers: tuple[Stranger, ...]
    seen: Seen
    rehearsal: Rehearsal | None

    @property
    def lines(self) -> tuple[Line, ...]:
        """What differs in the real building or in the rehearsed one: planned, rehearsed and found side by side."""
        return lines_of(self.differences, self.seen, self.rehearsal)


def take_found(
    book_path: Path,
    table: Path,
    means: Means,
    *,
    name: str,
    given: Sequence[str] = (),
    switch: str | None = None,
    seen_at: datetime | None = None,
) -> TakenFound:
    """Take what a settings table says into the book as observations; what is there already, the same, adds nothing.

    Args:
        book_path: the book.
        table: the settings table: a workbook, a text file or a folder of them.
        means: the world.
        name: the name under which the book keeps the column map.
        given: texts "target=heading" that make the column map anew; none where the book knows it.
        switch: the switch that the whole table was exported from.
        seen_at: when it was seen, in the site's time zone where it names none; else when the file was last changed.

    Raises:
        Refused: no such column map, mistakes in it or in the table (all are listed), or a moment to come. Nothing was
            recorded.
    """
    with Book.open(book_path) as book:
        site = book.site()
        known = book.column_maps().get(name)
        columns = _columns(name, given, known, table)
        moment = _moment(seen_at, table, site, means)
        means.progress(f"reading {table.name}")
        reading = read_found(table, columns, Walk(site), switch=switch)
        if reading.mistakes:
            count = len(reading.mistakes)
            raise Refused(
                f"{table.name} has {count} {'mistake' if count == 1 else 'mistakes'}; nothing was recorded",
                remedy="Correct the table or the mapping, and give the command again.",
                mistakes=reading.mistakes,
            )
        fresh = None
        if known is None or known.columns != columns:
            fresh = ColumnMap(name=name, columns=columns, by=means.who, at=means.now())
        means.progress("recording")
        new = _new(reading, book.observations(), moment, means)
        book.observe(new, column_map=fresh)
        book.note_trail(means.trace(Act.FOUND, f"{table.name}, read as {name!r}: {counted(len(new), 'new value')}"))
    return TakenFound(
        column_map=name,
        seen_at=moment,
        values_count=len(reading.sightings),
        new_count=len(new),
        parts_count=reading.parts_count,
        strangers_count=reading.strangers_count,
        unread=reading.unread,
        remarks=reading.remarks,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """A heading of a table, the word of what its column most likely tells, and whether it may hold secrets."""

    heading: str
    guess: str
    may_be_secret: bool


def headings_in(table: Path) -> tuple[Heading, ...]:
    """Return the headings of a settings table, each with a guess that somebody must check.

    What is guessed once is not guessed again: of two columns that could tell the same, the first is offered.

    Raises:
        Refused: the file cannot be read, or has no headings.
    """
    headings = headings_of(read_grids(table))
    if not headings:
        raise Refused(f"{table.name} has no headings", remedy="Give a table whose first row says what stands below it.")
    guessed: set[str] = set()
    found = []
    for heading in headings:
        is_secret = is_secret_heading(heading)
        target = None if is_secret else guess(heading)
        word = target.word if target is not None and target.word not in guessed else ""
        guessed.add(word)
        found.append(Heading(heading=heading, guess=word, may_be_secret=is_secret))
    return tuple(found)


def column_maps(book_path: Path) -> tuple[ColumnMap, ...]:
    """Return the column maps that a book keeps.

    Raises:
        Refused: the book cannot be read.
    """
    with Book.open(book_path, read_only=True) as book:
        return tuple(book.column_maps().values())


def compare_found(book_path: Path) -> Compared:
    """Set what was found and what was rehearsed beside the latest revision.

    Raises:
        Refused: the book cannot be read.
    """
    with Book.open(book_path, read_only=True) as book:
        walk = Walk(book.site())
        revision = book.head().number
        observations = book.observations()
    seen, kept = what_counts(observations, Stage.FOUND), kept_of(observations)
    parts: tuple[Unit | Switch, ...] = (*walk.all(Unit), *walk.all(Switch))
    found = [(one, where_is(walk, one.part)) for one in differences(walk, seen)]
    return Compared(
        revision=revision,
        parts_count=len(parts),
        seen_count=sum(_was_seen(seen.get(part.subject, {})) for part in parts),
        differences=tuple(sorted(found, key=lambda pair: natural_key(pair[0].part.label))),
        strangers=tuple(one for one in strangers(walk, seen) if not one.known_now),
        seen=seen,
        rehearsal=beside_plan(walk, kept, revision) if kept is not None else None,
    )


def _was_seen(there: Mapping[str, Observation]) -> bool:
    """Say whether anything was seen of a part: that it was silent is known of it, and is not seeing it."""
    return any(aspect != Aspect.ANSWERED or answered_at(one.value)[0] for aspect, one in there.items())


def _columns(name: str, given: Sequence[str], known: ColumnMap | None, table: Path) -> tuple[tuple[str, str], ...]:
    if given:
        columns, mistakes = columns_from(given)
        if mistakes:
            raise Refused(
                f"the mapping {name!r} cannot be made", remedy="Correct --map and try again.", mistakes=mistakes
            )
        return columns
    if known is not None:
        return known.columns
    headings = headings_of(read_grids(table))
    offered = [
        suggestion(target, heading)
        for heading in headings
        if not is_secret_heading(heading) and (target := guess(heading)) is not None
    ]
    raise Refused(
        f"the book has no mapping {name!r}, and none was given; {table.name} has the headings: {', '.join(headings)}",
        remedy=f"Say what the columns tell, once. A guess, to be checked: {' '.join(offered)}"
        if offered
        else 'Say what the columns tell, once, such as --map "mac=MAC address".',
    )


def _moment(seen_at: datetime | None, table: Path, site: Site, means: Means) -> datetime:
    now = means.now()
    if seen_at is None:
        files = [table, *table.iterdir()] if table.is_dir() else [table]
        if not table.exists():
            raise Refused(f"{table} is not there", remedy="Check the name.")
        changed = max(file.stat().st_mtime for file in files)
        return min(datetime.fromtimestamp(changed, UTC), now)
    moment = seen_at if seen_at.tzinfo else _placed(seen_at, site)
    if moment > now:
        raise Refused(f"{seen_at:%Y-%m-%d %H:%M} has not come yet", remedy="Give the moment at which it was seen.")
    return moment.astimezone(UTC)


def _placed(moment: datetime, site: Site) -> datetime:
    """Return a moment in the site's time zone, or in this machine's where the site names none that is known here."""
    try:
        return moment.replace(tzinfo=ZoneInfo(site.time_zone)) if site.time_zone else moment.astimezone()
    except (ZoneInfoNotFoundError, ValueError):
        return moment.astimezone()


def _new(reading: FoundTable, there: Sequence[Observation], moment: datetime, means: Means) -> tuple[Observation, ...]:
    """Return the observations of a table that the book does not have yet, the same and at the same moment."""
    known = {(seen.subject, seen.aspect): seen.value for seen in there if seen.seen_at == moment}

    def observed(sighting: Sighting) -> Observation:
        return Observation(
            id=means.new_id(),
            stage=Stage.FOUND,
            subject=sighting.subject,
            aspect=sighting.aspect,
            value=sighting.value,
            seen_at=moment,
            seen_by=means.who,
        )

    return tuple(observed(one) for one in reading.sightings if known.get((one.subject, one.aspect)) != one.value)
