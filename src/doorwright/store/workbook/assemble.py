"""Rows to parts: each row finds the part it describes or becomes a new one, and names become identifiers."""

import difflib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import MISSING, fields
from typing import Any, Final

from doorwright.model.calling import Divert
from doorwright.model.network import CableRun
from doorwright.model.part import Part
from doorwright.model.place import Building, Core, Dwelling, Level
from doorwright.model.profile import Profile
from doorwright.model.unit import SecretMark, Unit, UnitKind
from doorwright.store.workbook.columns import SHEET_BY_KIND, Column, Sheet
from doorwright.store.workbook.draft import Draft, Matching, comparable
from doorwright.store.workbook.grid import CellError, Raw
from doorwright.store.workbook.layout import Row
from doorwright.store.workbook.names import HOLDERS, Ambiguous, Names, NotFound
from doorwright.store.workbook.report import Report, Spot
from doorwright.store.workbook.serves import served
from doorwright.store.workbook.shown import REFERRED, inside, near, shown
from doorwright.store.workbook.values import TEXT, Unreadable, as_text, clean, same

_CLEARED: Final = frozenset({"-", "–", "—"})
_DEFAULTS: Final = {kind: {field.name: field.default for field in fields(kind)} for kind in SHEET_BY_KIND}
_LISTED_MOST_COUNT: Final = 12
"""So many names are listed beside one that is not known; more are easier looked up in their sheet."""
_NAMED_BY_DWELLINGS: Final = frozenset({Building, Core, Level})


class Assembly:
    """Everything known while a workbook is put together: parts in the making by kind and identifier, and names."""

    def __init__(
        self, *, old_names: Names, old: Mapping[type[Part], tuple[Any, ...]], profiles: Mapping[str, Profile],
        new_id: Callable[[], str], report: Report, unaltered: bool = False, finds_by_fields: bool = True,
    ) -> None:  # fmt: skip
        """Begin with the old parts and their names.

        ``unaltered`` says that no row alters any name, so that the old ones go on; without ``finds_by_fields`` a row
        without identifier is always a new part.
        """
        self.drafts: dict[type[Part], dict[str, Draft]] = {kind: {} for kind in SHEET_BY_KIND}
        self.names = old_names if unaltered else Names()
        self._unaltered = unaltered
        self._finds_by_fields = finds_by_fields
        self.listed: set[type[Part]] = set()
        self.called: Mapping[type[Part], tuple[str, ...]] = {}
        self._old_names = old_names
        self._old = old
        self._profiles = profiles
        self._profiles_folded = _folded(profiles)
        self.new_id = new_id
        self.report = report
        self._later: list[tuple[Draft, Column]] = []
        self._made_names: set[str] = set()
        self._id_spots: dict[str, Spot] = {}
        self._old_kinds = {part.id: kind for kind, parts in old.items() for part in parts}

    # tables

    def keep(self, kind: type[Part]) -> None:
        """Take over the old parts of a kind whose sheet the workbook does not hold."""
        for part in self._old[kind]:
            self.drafts[kind][part.id] = Draft(kind, part.id, part)
            self._enter(self.drafts[kind][part.id])

    def take(self, sheet: Sheet, rows: Iterable[Row]) -> list[Draft]:
        """Make drafts of the rows of a kind, then take over the old parts that no row describes; return the latter."""
        matching = Matching(sheet, self._old[sheet.kind])
        seen: dict[tuple[Any, ...], Draft] = {}
        absent: set[str] = set()
        for row in rows:
            draft = self._draft(sheet, row, matching, absent)
            self._check_twice(sheet, draft, seen)
            self.drafts[sheet.kind][draft.ident] = draft
            self._enter(draft)
        unclaimed = []
        for part in self._old[sheet.kind]:
            if part.id not in matching.claimed:
                draft = self.drafts[sheet.kind][part.id] = Draft(sheet.kind, part.id, part)
                self._enter(draft)
                unclaimed.append(draft)
        return unclaimed

    def settle(self) -> None:
        """Read the cells that name parts of their own kind, once all of these are known."""
        for draft, column in self._later:
            self._give(draft, column)
        self._later.clear()

    def _enter(self, draft: Draft) -> None:
        if self._unaltered:
            return
        name = next((str(draft.value(name)) for name in ("name", "door_label") if draft.value(name) is not None), "")
        if draft.kind in REFERRED and (name or draft.kind in _NAMED_BY_DWELLINGS):
            self.names.enter(draft.kind, draft.ident, name, [draft.value(holder) for holder in HOLDERS])

    def _draft(self, sheet: Sheet, row: Row, matching: Matching, absent: set[str]) -> Draft:
        draft = Draft(sheet.kind, self._ident(sheet, row) or "", row=row)
        draft.old = matching.by_id(draft.ident)
        first = self._find_old(sheet, draft, matching) if draft.old is None and self._finds_by_fields else set()
        if draft.old is not None:
            matching.claimed.add(draft.old.id)
            draft.ident = draft.old.id
        draft.ident = draft.ident or self.new_id()
        for column in sheet.columns:
            if column.field == "id":
                continue
            if column.field in first:
                self._is_same(draft, column, drop=True)
            elif sheet.kind in column.refers:
                self._later.append((draft, column))
            else:
                self._give(draft, column)
        self._finish(sheet, draft, absent)
        return draft

    def _find_old(self, sheet: Sheet, draft: Draft, matching: Matching) -> set[str]:
        """Read the columns by which a row finds its part, and find it; return the fields read."""
        first = {column.field for column in sheet.columns if column.helper and column.refers}
        first |= {name for names in sheet.matches for name in names}
        for column in sheet.columns:
            if column.field in first:
                self._give(draft, column)
        draft.old = matching.by_fields(draft)
        return first

    def _ident(self, sheet: Sheet, row: Row) -> str | None:
        raw = row.cells.get("id")
        if raw is None:
            return None
        try:
            ident = as_text(raw)
        except Unreadable as fault:
            self.report.mistake(row.spot("id"), raw, fault.problem, fault.remedy)
            return None
        known = self._id_spots.get(ident)
        elsewhere = self._old_kinds.get(ident, sheet.kind)
        if known is not None or elsewhere is not sheet.kind:
            stands = f"stands in {known} already" if known else f"belongs to a {elsewhere.KIND}"
            self.report.mistake(
                row.spot("id"), ident, f"this identifier {stands}",
                "Leave the cell blank in new rows. A column of your own numbers needs another heading than Id.",
            )  # fmt: skip
            return None
        self._id_spots[ident] = row.spot("id")
        return ident

    # cells

    def _is_same(self, draft: Draft, column: Column, *, drop: bool = False) -> bool:
        """Whether the cell says what an export of the old part would; ``drop`` forgets what was read from it then."""
        if draft.old is None or draft.row is None:
            return False
        raw = draft.row.cells.get(column.field)
        unchanged = raw is not None and same(raw, shown(column, draft.old, self._old_names))
        if unchanged and drop:
            for field in column.fields:
                draft.given.pop(field, None)
        return unchanged

    def _give(self, draft: Draft, column: Column) -> None:
        row = draft.row
        raw = row.cells.get(column.field) if row else None
        if row is None or raw is None or self._is_same(draft, column):
            return
        if isinstance(raw, str) and clean(raw) in _CLEARED:
            self._clear(draft, column, raw)
            return
        try:
            value, change = column.form.read(raw, row.layout.headings[column.field])
        except Unreadable as fault:
            self.report.mistake(row.spot(column.field), _read(raw), fault.problem, fault.remedy)
            draft.broken = True
            return
        if column.lists:
            self._serve(draft, column, value)
            return
        if column.refers:
            value = self._refer(draft, column, value)
        elif column.profiles:
            value = self._profile(draft, column, value)
        if value is None:
            draft.broken = True
            return
        if change:
            kept = column.form.show(value) if not column.refers else clean(str(raw))
            self.report.remark(row.spot(column.field), raw, kept, change)
        (draft.helpers if column.helper else draft.given)[column.field] = value

    def _clear(self, draft: Draft, column: Column, raw: str) -> None:
        if draft.old is None or draft.row is None or column.helper:
            return
        if column.lists and not column.required:
            draft.given |= {field: () for field, _ in column.lists}
            return
        default = MISSING if column.required else _DEFAULTS[draft.kind].get(column.field, MISSING)
        if default is MISSING:
            self.report.mistake(
                draft.row.spot(column.field),
                raw,
                "this cannot be cleared",
                "Write a value, or leave the cell blank to keep it.",
            )
            draft.broken = True
        else:
            draft.given[column.field] = default

    def _serve(self, draft: Draft, column: Column, text: str) -> None:
        assert draft.row is not None  # noqa: S101  (for the type checker: a cell was read)
        units = self.drafts[Unit].values()
        desks = [unit.ident for unit in units if unit.value("kind") is UnitKind.SMU]
        found = served(text, column, self.names, desks=desks, spot=draft.row.spot(column.field), report=self.report)
        if found is None:
            draft.broken = True
            return
        draft.given |= found
        draft.helpers[column.field] = text

    def _refer(self, draft: Draft, column: Column, text: str) -> str | None:
        assert draft.row is not None  # noqa: S101  (for the type checker: a cell was read)
        spot = draft.row.spot(column.field)
        try:
            ident, exactly = self._find(draft, column, text)
        except NotFound as fault:
            if draft.kind in {Dwelling, Core, Level} and column.refers[0] in _NAMED_BY_DWELLINGS - self.listed:
                return self._make(draft, column.refers[0], text, spot)
            self._no_such(spot, text, column, fault.nearest)
            return None
        except Ambiguous as fault:
            kind = column.refers[0].KIND
            self.report.mistake(
                spot, text, f'"{text}" names more than one {kind}', f"Write one of: {', '.join(fault.spellings)}."
            )
            return None
        if not exactly:
            self.report.remark(
                spot, text, self.names.name(ident), f"read as the {column.refers[0].KIND} of nearly that name"
            )
        return ident

    def _find(self, draft: Draft, column: Column, text: str) -> tuple[str, bool]:
        within = inside(column, draft.value, self.names)
        try:
            return self.names.find(text, column.refers, within)
        except Ambiguous:
            likely = near(column, draft.value, self.names)
            if within is not None or likely is None:
                raise
        try:
            return self.names.find(text, column.refers, likely)
        except NotFound:
            return self.names.find(text, column.refers)

    def _no_such(self, spot: Spot, text: str, column: Column, nearest: str) -> None:
        kinds = " or ".join(kind.KIND for kind in column.refers)
        names = [name for kind in column.refers for name in self.called.get(kind, (SHEET_BY_KIND[kind].name,))]
        sheets = " or ".join(f'"{name}"' for name in names)
        guess = f'Did you mean "{nearest}"? Otherwise add' if nearest else "Correct the name, or add"
        listed = [self.names.name(ident) for kind in column.refers for ident in self.names.ids(kind)]
        known = f" Known: {', '.join(listed)}." if 0 < len(listed) <= _LISTED_MOST_COUNT else ""
        self.report.mistake(
            spot, text, f"there is no {kinds} of this name", f"{guess} it to the sheet {sheets}.{known}"
        )

    def _make(self, draft: Draft, kind: type[Part], name: str, spot: Spot) -> str | None:
        """Make a building, core or level that only the rows of another sheet name."""
        given: dict[str, Any] = {"name": name}
        if kind is not Building:
            building = draft.value("building") or self.names.holder(draft.value("core"), Building)
            building = building or self.only(Building, draft)
            if building is None:
                self.report.mistake(
                    spot, name, f"it is not clear which building this {kind.KIND} lies in",
                    f'Add a column "Building", or the sheet "{SHEET_BY_KIND[kind].name}".',
                )  # fmt: skip
                return None
            given["building"] = building
        made = Draft(kind, self.new_id(), given=given, row=draft.row)
        self.drafts[kind][made.ident] = made
        self._enter(made)
        if name:
            self.report.remark(spot, name, name, f"this {kind.KIND} is listed nowhere and was made from its name")
        return made.ident

    def only(self, kind: type[Part], draft: Draft) -> str | None:
        """Return the only building or core there is, made unnamed where there is none; None where there are several."""
        idents = self.names.ids(kind)
        building = draft.helpers.get("building")
        if kind is Core and building is not None:
            idents = [ident for ident in idents if self.names.holder(ident, Building) == building]
        if len(idents) == 1:
            return idents[0]
        return None if idents else self._make(draft, kind, "", draft.spot())

    def _profile(self, draft: Draft, column: Column, text: str) -> str | None:
        assert draft.row is not None  # noqa: S101  (for the type checker: a cell was read)
        spot = draft.row.spot(column.field)
        profile = self._profiles.get(text) or self._profiles_folded.get(text.casefold())
        wanted = ", ".join(kind.value for kind in column.profiles)
        fitting = [key for key, known in self._profiles.items() if known.kind in column.profiles]
        if profile is None:
            near = _nearest(text, [*fitting, *(self._profiles[key].title for key in fitting)])
            remedy = f'Did you mean "{near}"? ' if near else ""
            listed = ", ".join(fitting[:12]) or "none: give the profiles"
            self.report.mistake(
                spot, text, "there is no unit type of this name", f"{remedy}Known for this column: {listed}."
            )
            return None
        if profile.kind not in column.profiles:
            self.report.mistake(
                spot,
                text,
                f"this unit type is a {profile.kind.value}, not a {wanted}",
                f"Write one of: {', '.join(fitting[:12])}.",
            )
            return None
        if not column.helper and draft.kind is Unit:
            draft.given["kind"] = UnitKind(profile.kind.value)
        return profile.key

    def profile_keys(self, *kinds: str) -> list[str]:
        """Return the keys of the unit types of some kinds."""
        return [key for key, profile in self._profiles.items() if profile.kind.value in kinds]

    # whole rows

    def _finish(self, sheet: Sheet, draft: Draft, absent: set[str]) -> None:
        row = draft.row
        assert row is not None  # noqa: S101  (for the type checker: drafts of rows have one)
        draft.notes = _noted(draft.old.notes if draft.old else (), row.notes)
        if draft.old is not None:
            return
        self._suppose(draft)
        for column in sheet.columns:
            if column.required and not column.helper and draft.value(column.field) is None:
                self._missing(draft, column, absent)
        if draft.kind is Divert and not draft.broken:
            self._check_target(draft)
        if draft.kind is SecretMark and "id" not in row.cells:
            self.report.mistake(
                row.spot(), "", "a sealed line without identifier belongs to no secret",
                "Take this row out: sealed lines are written by Doorwright when secrets are issued.",
            )  # fmt: skip

    def _check_target(self, draft: Draft) -> None:
        """Tell of a new divert to nowhere or to two places; one with an identifier was written so on purpose."""
        targets = [draft.value(name) for name in ("to_dwelling", "to_desk") if draft.value(name) is not None]
        if draft.row is None or len(targets) == 1 or "id" in draft.row.cells:
            return
        if targets:
            problem, remedy = "these calls go to a dwelling and to a desk", "Leave one of the two cells blank."
        else:
            problem, remedy = "it is not said where these calls go", 'Fill in "To dwelling" or "To desk".'
        self.report.mistake(draft.spot(), "", problem, remedy)

    def _missing(self, draft: Draft, column: Column, absent: set[str]) -> None:
        row = draft.row
        assert row is not None  # noqa: S101  (for the type checker: drafts of rows have one)
        draft.broken = True
        if column.field in row.cells:
            dash = row.cells[column.field]
            if isinstance(dash, str) and clean(dash) in _CLEARED:
                self.report.mistake(
                    row.spot(column.field), dash, f"{column.heading} is missing",
                    f"Write {_wanted(draft, column)}; a dash says that there is none.",
                )  # fmt: skip
            return
        if column.field in row.layout.columns:
            advice = " A merged cell speaks for its rows in .xlsx and .xls files only." if column.fills else ""
            self.report.mistake(
                row.spot(column.field), "", f"{column.heading} is missing", f"Write {_wanted(draft, column)}.{advice}"
            )
        elif (key := f"{row.layout.order}:{column.field}") not in absent:
            absent.add(key)
            self.report.mistake(
                row.layout.spot(), "", f'the column "{column.heading}" is missing',
                f"Add a column with this heading: {column.note}",
            )  # fmt: skip

    def _suppose(self, draft: Draft) -> None:
        """Supply what a new row may leave out: the only building or core, and the name of a cable."""
        row = draft.row
        assert row is not None  # noqa: S101  (for the type checker: drafts of rows have one)
        wanted = {Core: ("building", Building), Level: ("building", Building), Dwelling: ("core", Core)}.get(draft.kind)
        if wanted is not None and draft.value(wanted[0]) is None and wanted[0] not in row.cells:
            supposed = self.only(wanted[1], draft)
            if supposed is not None:
                draft.given[wanted[0]] = supposed
            else:
                draft.broken = True
                self.report.mistake(
                    row.spot(wanted[0]), "", f"{wanted[0].capitalize()} is missing, and there are several",
                    "Write its name. A merged cell speaks for its rows in .xlsx and .xls files only.",
                )  # fmt: skip
        if draft.kind in {Building, Core, Level}:
            draft.given.setdefault("name", "")
        if draft.kind is CableRun and "name" not in draft.given and draft.value("near") and draft.value("far"):
            draft.given["name"] = self._cable_name(draft)
            self.report.remark(row.spot("name"), "", draft.given["name"], "a cable without name was named by its ends")

    def _cable_name(self, draft: Draft) -> str:
        ends = f"{self.names.name(draft.value('near'))} to {self.names.name(draft.value('far'))}"
        name, ordinal = ends, 1
        while name in self._made_names:
            ordinal += 1
            name = f"{ends} ({ordinal})"
        self._made_names.add(name)
        return name

    def _check_twice(self, sheet: Sheet, draft: Draft, seen: dict[tuple[Any, ...], Draft]) -> None:
        row = draft.row
        if row is None or draft.broken:
            return
        changed = draft.old is None or any(name in draft.given for name in sheet.fields(sheet.matches[0]))
        fields = sheet.fields(sheet.matches[0])
        key = tuple(comparable(draft.value(name)) for name in fields)
        known = seen.setdefault(key, draft)
        if known is draft or known.row is None or ("id" in row.cells and (sheet.kind is not Dwelling or not changed)):
            return
        what = " and ".join(sheet.column(name).heading.lower() for name in sheet.matches[0])
        self.report.mistake(
            row.spot(), self._told(draft), f"this {sheet.kind.KIND} stands in row {known.row.number} already" +
            (f' of sheet "{known.row.layout.name}"' if known.row.layout.name != row.layout.name else ""),
            f"Take one of the two rows out, or tell them apart by {what}.",
        )  # fmt: skip

    def _told(self, draft: Draft) -> str:
        name = next((str(draft.value(name)) for name in ("name", "door_label") if draft.value(name)), "")
        core = self.names.name(draft.value("core") or "") if draft.kind is Dwelling else ""
        return f"{core}/{name}" if core else name


def _wanted(draft: Draft, column: Column) -> str:
    if column.refers:
        return f"the name of a {' or '.join(kind.KIND for kind in column.refers)}"
    if column.profiles:
        return f"a unit type: {', '.join(kind.value for kind in column.profiles)}"
    if column.form is TEXT:
        return f"the {draft.kind.KIND}'s {'label' if column.field == 'door_label' else column.heading.lower()}"
    return column.form.wanted


def _read(raw: Raw) -> object:
    return raw.code if isinstance(raw, CellError) else raw


def _folded(profiles: Mapping[str, Profile]) -> dict[str, Profile]:
    folded: dict[str, Profile] = {}
    for profile in profiles.values():
        folded.setdefault(profile.title.casefold(), profile)
    for profile in profiles.values():
        folded[profile.key.casefold()] = profile
    return folded


def _nearest(text: str, among: list[str]) -> str:
    near = difflib.get_close_matches(text[:80], among, n=1, cutoff=0.5)
    return near[0] if near else ""


def _noted(old: tuple[tuple[str, str], ...], read: tuple[tuple[str, str], ...]) -> tuple[tuple[str, str], ...]:
    """Return the notes of a part after reading: a blank cell keeps a note, a lone dash takes it away."""
    if not old:
        return tuple(note for note in read if note[1] not in _CLEARED)
    if not read or tuple((clean(heading), clean(text)) for heading, text in old) == tuple(
        (clean(heading), clean(text)) for heading, text in read
    ):
        return old
    notes: list[tuple[str, str] | None] = list(old)
    taken: set[int] = set()
    for heading, text in read:
        at = next((i for i, note in enumerate(old) if i not in taken and clean(note[0]) == clean(heading)), None)
        new = None if text in _CLEARED else (heading, text)
        if at is None:
            notes.append(new)
            continue
        taken.add(at)
        if new is None or clean(old[at][1]) != clean(text):
            notes[at] = new
    return tuple(note for note in notes if note is not None)
