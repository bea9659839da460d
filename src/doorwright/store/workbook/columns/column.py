"""What a column, a sheet and a setting of a workbook are."""

from dataclasses import dataclass
from enum import StrEnum

from doorwright.model.part import Part
from doorwright.model.profile import ProfileKind
from doorwright.store.workbook import values
from doorwright.store.workbook.values import Form


class WhenGone(StrEnum):
    """What becomes of a part when the one it refers to is removed."""

    REFUSED = "refused"
    CLEARED = "cleared"
    GOES_TOO = "goes too"


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column: the field it fills, its heading, how it is read and written, and what people are told about it.

    ``refers`` are the kinds of part that its text may name. ``profiles`` are the kinds of unit type it may name.
    A column with ``lists`` names any number of parts, and fills one field of the part with those of each kind.
    ``fills`` says that one merged cell speaks for all its rows. A ``helper`` is read but is no field of the part.
    ``example`` is the template's; one that starts with ``profile:`` stands for a unit type of that kind.
    """

    field: str
    heading: str
    note: str
    form: Form = values.TEXT
    synonyms: tuple[str, ...] = ()
    required: bool = False
    refers: tuple[type[Part], ...] = ()
    lists: tuple[tuple[str, type[Part]], ...] = ()
    profiles: tuple[ProfileKind, ...] = ()
    fills: bool = False
    helper: bool = False
    when_gone: WhenGone = WhenGone.CLEARED
    example: str | int | float | None = None
    width: int = 14

    @property
    def fields(self) -> tuple[str, ...]:
        """The fields of the part that it fills."""
        return tuple(field for field, _ in self.lists) or (self.field,)

    @property
    def wanted(self) -> str:
        """What belongs in it, in words."""
        if self.refers:
            return f"the name of a {' or '.join(kind.KIND for kind in self.refers)}"
        if self.profiles:
            return f"a unit type: {', '.join(kind.value for kind in self.profiles)}"
        return self.form.wanted

    @property
    def told_example(self) -> str:
        """The example; one that stands for whatever unit type of a kind there is says so in words."""
        text = "" if self.example is None else str(self.example)
        return f"a unit type of kind {text.removeprefix('profile:')}" if text.startswith("profile:") else text


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """One sheet: the kind of part in its rows, and how a row finds the part that it describes.

    ``matches`` are sets of columns, tried in turn, by which a row without identifier finds its part; with
    ``blank_matches`` a blank among them is a value like any other (a divert for all dwellings).
    """

    name: str
    kind: type[Part]
    note: str
    synonyms: tuple[str, ...]
    matches: tuple[tuple[str, ...], ...]
    columns: tuple[Column, ...]
    in_template: bool = True
    blank_matches: bool = False

    def column(self, field: str) -> Column:
        """Return the column that fills a field."""
        return next(column for column in self.columns if column.field == field)

    def fields(self, names: tuple[str, ...]) -> tuple[str, ...]:
        """Return the fields of the part that some columns fill."""
        return tuple(field for name in names for field in self.column(name).fields)


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """One line of the sheet "Site". ``field`` is the site's, or as ``choices.ring_s`` that of one of its groups."""

    field: str
    heading: str
    note: str
    form: Form = values.TEXT
    synonyms: tuple[str, ...] = ()
    example: str | int | float | None = None
