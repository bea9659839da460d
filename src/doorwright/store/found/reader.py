"""A settings table, exported from units or from a switch, to what it says of each part of the plan."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.verdict import Subject
from doorwright.model.aspect import DOWN, SITE_SUBJECT, Aspect, port_text, stranger, with_unit
from doorwright.model.naming import named
from doorwright.model.network import Switch
from doorwright.model.part import Part
from doorwright.model.walk import Walk
from doorwright.store.found.columns import Columns, guess, suggestion
from doorwright.store.found.match import SeveralParts, Socket, part_of, switches_named
from doorwright.store.found.target import PORT, SWITCH, TARGET_BY_WORD, Target
from doorwright.store.workbook.grid import CellError, Grid, Raw, read_grids
from doorwright.store.workbook.layout import HEADER_ROWS_MAX, is_secret_heading, words
from doorwright.store.workbook.report import Remark, Report, Spot
from doorwright.store.workbook.values import Unreadable, as_text, clean, is_blank

_NOTHING: Final = frozenset({"-", "–", "—", "n/a", "na", "none", "null", "unknown", "?"})
"""What exports write where there is nothing to say."""

_OF_PORT: Final = (Aspect.VLAN, Aspect.LINK, Aspect.POE)
"""What is the port's own, and so says nothing of a unit that is seen through a link between switches."""


@dataclass(frozen=True, slots=True)
class Sighting:
    """One cell that counts: of which part, what, its value. What belongs to no part is of the site."""

    subject: Subject
    aspect: str
    value: str


@dataclass(frozen=True, slots=True)
class UnreadColumn:
    """A column that was not read: its sheet and heading, the line that would map it, whether it may hold secrets."""

    sheet: str
    heading: str
    suggestion: str
    may_be_secret: bool


@dataclass(frozen=True, slots=True)
class FoundTable:
    """A settings table as read. Where there are mistakes nothing of it is used."""

    sightings: tuple[Sighting, ...]
    parts_count: int
    strangers_count: int
    unread: tuple[UnreadColumn, ...]
    remarks: tuple[Remark, ...]
    mistakes: tuple[Mistake, ...]


@dataclass(slots=True)
class _Table:
    """One sheet in which the headings were found: their row, and the mapped columns by target."""

    order: int
    grid: Grid
    header: int
    columns: dict[str, int]

    def spot(self, row: int = 0, word: str = "") -> Spot:
        """Return a place in this sheet; ``row`` counts from 1."""
        column = self.columns.get(word, -1)
        heading = _heading(self.grid.rows[self.header][column]) if column >= 0 else ""
        return Spot(self.order, self.grid.name, row, column, heading)


def read_found(path: Path, columns: Columns, walk: Walk, *, switch: str | None = None) -> FoundTable:
    """Read a settings table: a workbook, a text file or a folder of them.

    Args:
        path: the file.
        columns: which column tells what.
        walk: the way around the site as planned.
        switch: name of the switch that the whole table was exported from, where no column says it.

    Raises:
        Refused: the file cannot be read, no sheet has the columns, or the plan has no such switch.
    """
    exported_from = _switch_of(walk, switch) if switch is not None else None
    report = Report()
    grids = read_grids(path)
    tables = _tables(grids, columns, report)
    if not tables:
        raise Refused(
            f"no sheet of {path.name} has a row of headings with the mapped columns",
            remedy=f"Its headings are: {', '.join(headings_of(grids)) or 'none'}. Map those, or choose the right file.",
        )
    _see_all_columns(tables, columns, report)
    reading = _Rows(walk, exported_from, report)
    for table in tables:
        for number, cells in enumerate(table.grid.rows[table.header + 1 :], start=table.header + 2):
            reading.take(table, number, cells)
    reading.settle()
    return FoundTable(
        sightings=tuple(
            Sighting(subject, aspect, value) for (subject, aspect), (value, _) in reading.sightings.items()
        ),
        parts_count=len({subject for subject, _ in reading.sightings if subject != SITE_SUBJECT}),
        strangers_count=sum(1 for subject, _ in reading.sightings if subject == SITE_SUBJECT),
        unread=tuple(_unread(tables, columns)),
        remarks=report.remarks,
        mistakes=report.mistakes,
    )


def headings_of(grids: list[Grid]) -> tuple[str, ...]:
    """Return the headings of each sheet, from the row in which most are known, else the first with several cells."""
    found: dict[str, None] = {}
    for grid in grids:
        rows = [[_heading(cell) for cell in row] for row in grid.rows[:HEADER_ROWS_MAX]]
        best = max(
            rows, key=lambda row: (sum(guess(cell) is not None for cell in row), sum(map(bool, row))), default=[]
        )
        found.update((heading, None) for heading in best if heading)
    return tuple(found)


def _heading(cell: Raw) -> str:
    return clean(cell)[:80] if isinstance(cell, str) else ""


def _switch_of(walk: Walk, name: str) -> Switch:
    found = switches_named(walk, name)
    if len(found) != 1:
        known = ", ".join(sorted(one.name for one in walk.all(Switch))) or "none"
        problem = f"the plan has no switch {name!r}" if not found else f"the plan has several switches {name!r}"
        raise Refused(problem, remedy=f"Its switches are: {known}.")
    return found[0]


# headings


def _tables(grids: list[Grid], columns: Columns, report: Report) -> list[_Table]:
    tables = []
    for order, grid in enumerate(grids):
        if not grid.filled:
            continue
        if grid.hidden:
            report.remark(Spot(order, grid.name), "", "", "this hidden sheet was not read; show it to have it read")
            continue
        found = _table(order, grid, columns, report)
        if found is None:
            report.remark(Spot(order, grid.name), "", "", "this sheet was not read: it has none of the mapped columns")
        else:
            tables.append(found)
    return tables


def _table(order: int, grid: Grid, columns: Columns, report: Report) -> _Table | None:
    wanted = {words(heading): word for word, heading in columns}
    best: tuple[int, list[tuple[str, int]]] | None = None
    for number, row in enumerate(grid.rows[:HEADER_ROWS_MAX]):
        here = [
            (wanted[words(text)], index)
            for index, cell in enumerate(row)
            if (text := _heading(cell)) and words(text) in wanted and not is_secret_heading(text)
        ]
        if any(TARGET_BY_WORD[word].identifies for word, _ in here) and (best is None or len(here) > len(best[1])):
            best = (number, here)
    if best is None:
        return None
    table = _Table(order, grid, best[0], {})
    for word, index in best[1]:
        if word in table.columns:
            spot = Spot(order, grid.name, best[0] + 1, index, _heading(grid.rows[best[0]][index]))
            report.mistake(spot, "", "two columns have this heading", "Give one of them another heading.")
        table.columns.setdefault(word, index)
    return table


def _see_all_columns(tables: list[_Table], columns: Columns, report: Report) -> None:
    there = ", ".join(headings_of([table.grid for table in tables]))
    for word, heading in columns:
        if all(word not in table.columns for table in tables):
            report.mistake(
                tables[0].spot(), f"{word}={heading}", "the mapped column is not there",
                f"Give the heading as it stands, or leave it out of the mapping. The headings are: {there}.",
            )  # fmt: skip


def _unread(tables: list[_Table], columns: Columns) -> Iterator[UnreadColumn]:
    told = {word for word, _ in columns}
    for table in tables:
        read = set(table.columns.values())
        for index, cell in enumerate(table.grid.rows[table.header]):
            heading = _heading(cell)
            if heading and index not in read:
                secret = is_secret_heading(heading)
                target = None if secret else guess(heading)
                offered = suggestion(target, heading) if target and target.word not in told else ""
                yield UnreadColumn(table.grid.name, heading, offered, secret)


# rows


class _Rows:
    """Takes rows one by one, and then keeps what each says."""

    def __init__(self, walk: Walk, exported_from: Switch | None, report: Report) -> None:
        self._walk = walk
        self._exported_from = exported_from
        self._report = report
        self._rows: list[tuple[_Table, int, dict[Aspect, str], Socket | None]] = []
        self._behind: dict[tuple[str, int], set[tuple[str, ...]]] = {}
        self.sightings: dict[tuple[Subject, str], tuple[str, Spot]] = {}

    def take(self, table: _Table, number: int, cells: list[Raw]) -> None:
        """Take one row; what cannot be read in it goes to the report."""
        texts, sound = self._texts(table, number, cells)
        if not texts:
            return
        socket, socket_sound = self._socket(table, number, texts)
        if not (sound and socket_sound):
            return
        values = {
            TARGET_BY_WORD[word].aspect: text for word, text in texts.items() if word not in (SWITCH.word, PORT.word)
        }
        self._rows.append((table, number, values, socket))
        who = tuple(values[by] for by in _STRANGER_BY if by in values)
        if socket is not None and who:
            self._behind.setdefault((socket.switch.id, socket.port), set()).add(who)

    def settle(self) -> None:
        """See which part each row is about; what contradicts itself goes to the report."""
        for table, number, values, socket in self._rows:
            self._settle(table, number, values, socket)

    def _settle(self, table: _Table, number: int, values: dict[Aspect, str], socket: Socket | None) -> None:
        if socket is not None and (why := self._leads_on(socket)):
            self._report.remark(
                table.spot(number, PORT.word), port_text(socket.switch.name, socket.port), "",
                f"{why}, so the port says nothing of what is seen through it",
            )  # fmt: skip
            values = {aspect: text for aspect, text in values.items() if aspect not in _OF_PORT}
            socket = None
            if not values:
                return
        try:
            part = part_of(self._walk, values, socket)
        except SeveralParts as several:
            names = ", ".join(named(self._walk, one) for one in several.parts)
            self._report.mistake(
                table.spot(number), values.get(several.by, ""),
                f"the {several.by} is that of several parts of the plan: {names}",
                "Map a column that tells them apart, or correct the plan.",
            )  # fmt: skip
            return
        if socket is not None:
            values[Aspect.PORT] = port_text(socket.switch.name, socket.port)
        if part is None:
            self._stranger(table, number, values)
        else:
            for aspect, value in values.items():
                self._keep(part.subject, aspect, value, table.spot(number, _word_of(aspect)), part)

    def _leads_on(self, socket: Socket) -> str:
        """Return why a port leads to more than one part, or nothing."""
        if socket.is_between_switches:
            return "the plan has another switch at this port"
        if len(self._behind.get((socket.switch.id, socket.port), ())) > 1:
            return "several are seen at this port, which lie behind another switch"
        return ""

    def _texts(self, table: _Table, number: int, cells: list[Raw]) -> tuple[dict[str, str], bool]:
        """Return the value of each filled cell by its target's word, and whether all could be read."""
        texts: dict[str, str] = {}
        sound = True
        for word, index in table.columns.items():
            raw = cells[index] if index < len(cells) else ""
            if is_blank(raw) or (isinstance(raw, str) and clean(raw).casefold() in _NOTHING):
                continue
            spot = table.spot(number, word)
            try:
                parsed = TARGET_BY_WORD[word].form.read(raw, spot.heading)
            except Unreadable as unreadable:
                self._report.mistake(spot, _shown(raw), unreadable.problem, unreadable.remedy)
                sound = False
                continue
            if parsed.change:
                self._report.remark(spot, _shown(raw), parsed.value, parsed.change)
            texts[word] = parsed.value
        return texts, sound

    def _socket(self, table: _Table, number: int, texts: Mapping[str, str]) -> tuple[Socket | None, bool]:
        """Return the switch port that a row names, and whether that could be told."""
        if PORT.word not in texts:
            return None, True
        switch = self._exported_from
        if SWITCH.word in texts:
            found = switches_named(self._walk, texts[SWITCH.word])
            if len(found) != 1:
                self._report.mistake(
                    table.spot(number, SWITCH.word), texts[SWITCH.word], "the plan has no one switch of this name",
                    "Write its name as in the plan: doorwright show BOOK switches.",
                )  # fmt: skip
                return None, False
            switch = found[0]
        if switch is None:
            self._report.mistake(
                table.spot(number, PORT.word), texts[PORT.word], "nothing says of which switch this is a port",
                "Map the column of the switch's name, or give --switch NAME.",
            )  # fmt: skip
            return None, False
        return Socket(self._walk, switch, int(texts[PORT.word])), True

    def _stranger(self, table: _Table, number: int, values: dict[Aspect, str]) -> None:
        by = next((by for by in _STRANGER_BY if by in values), None)
        if by is None:
            self._report.mistake(
                table.spot(number), ", ".join(values.values()), "no cell says which unit this row is about",
                "Fill in the column that tells it, or delete the row.",
            )  # fmt: skip
            return
        if by is Aspect.PORT and values.get(Aspect.LINK, DOWN) == DOWN:
            return  # a free port: nothing is planned there, and nothing is there
        rest = ", ".join(f"{aspect} {with_unit(aspect, value)}" for aspect, value in values.items() if aspect is not by)
        self._keep(SITE_SUBJECT, stranger(by, values[by]), rest or "nothing more", table.spot(number), None)

    def _keep(self, subject: Subject, aspect: str, value: str, spot: Spot, part: Part | None) -> None:
        known = self.sightings.setdefault((subject, aspect), (value, spot))
        if known[0].casefold() == value.casefold():
            return
        whose = f"of {named(self._walk, part)}" if part else "here"
        self._report.mistake(
            spot, value, f"the {aspect} {whose} is {known[0]} in {known[1]}",
            "Keep the row that is right; if both were seen, take them in one after the other.",
        )  # fmt: skip


_STRANGER_BY: Final = (Aspect.SERIAL, Aspect.MAC, Aspect.NAME, Aspect.ADDRESS, Aspect.PORT)
"""By what something is known that is not in the plan, the surest first."""

_WORD_OF: Final = {target.aspect: target.word for target in reversed(tuple(TARGET_BY_WORD.values()))}


def _word_of(aspect: Aspect) -> str:
    target: Target = PORT if aspect is Aspect.PORT else TARGET_BY_WORD[_WORD_OF[aspect]]
    return target.word


def _shown(raw: Raw) -> str:
    try:
        return as_text(raw)
    except Unreadable:
        return raw.code if isinstance(raw, CellError) else str(raw)
