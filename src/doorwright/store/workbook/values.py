"""What stands in a cell to a value, and a value to what stands in a cell. Units are converted here and nowhere else."""

import ipaddress
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from enum import StrEnum
from typing import Any, Final, NamedTuple, TypeAlias
from zoneinfo import available_timezones

from doorwright.store.workbook.grid import CellError, Raw
from doorwright.store.workbook.windows import WindowsUnreadable, show_windows, windows_of

TEXT_LENGTH_MAX: Final = 10_000
LIST_LENGTH_MAX: Final = 32_767

Shown: TypeAlias = str | int | float | None


class Unreadable(Exception):  # noqa: N818  (an answer about a cell, not an error of the program)
    """The cell does not hold what its column needs."""

    def __init__(self, problem: str, remedy: str) -> None:
        super().__init__(problem)
        self.problem = problem
        self.remedy = remedy


class Parsed(NamedTuple):
    """A value, and in words what had to be changed to get it (empty where nothing was)."""

    value: Any
    change: str = ""


@dataclass(frozen=True, slots=True)
class Form:
    """How the cells of a column are read and written. ``wanted`` says in words what belongs in them.

    ``read`` takes the cell and the column's heading (which may name a unit). ``is_text`` tells cells that are written
    as text even where they look like numbers.
    """

    wanted: str
    read: Callable[[Raw, str], Parsed]
    show: Callable[[Any], Shown]
    is_text: bool = True
    choices: tuple[str, ...] = ()


_INVISIBLE: Final = dict.fromkeys((0x200B, 0x2060, 0xFEFF), "")
_ERROR_TEXT: Final = re.compile(r"#(REF!|N/A|NAME\?|VALUE!|DIV/0!|NUM!|NULL!|SPILL!|CALC!|GETTING_DATA)|Err:\d{3}")
_SCIENTIFIC: Final = re.compile(r"\d(?:[.,]\d+)?E\+\d+", re.IGNORECASE)
_STRAY: Final = "stray spaces were taken away"


def clean(text: str) -> str:
    """Return a text on one line, without stray, doubled, non-breaking or zero-width spaces."""
    return " ".join((text if text.isascii() else text.translate(_INVISIBLE)).split())


def clean_lines(text: str) -> str:
    """Return a text of several lines, each cleaned; empty lines at the ends are dropped."""
    return "\n".join(clean(line) for line in text.splitlines()).strip("\n")


def is_blank(raw: Raw) -> bool:
    """Whether a cell holds nothing that anybody can see."""
    return isinstance(raw, str) and (not raw or (len(raw) <= TEXT_LENGTH_MAX and not clean(raw)))


def as_text(raw: Raw, longest: int = TEXT_LENGTH_MAX) -> str:
    """Return the text of a cell; a whole number loses its ``.0``.

    Raises:
        Unreadable: the cell holds an error, a date, a number with lost digits, or a text that is too long.
    """
    if isinstance(raw, str):
        if len(raw) > longest:
            raise Unreadable(
                f"the cell holds {len(raw)} characters, more than {longest}", "Shorten it; something was pasted here."
            )
        return clean(raw)
    if isinstance(raw, bool):
        return "yes" if raw else "no"
    if isinstance(raw, int | float):
        return _number_text(raw)
    raise _no_text(raw)


def _number_text(number: float) -> str:
    if abs(number) >= 1e15:
        raise Unreadable(
            "the spreadsheet program keeps only 15 digits of a number, so some are lost",
            "Format the column as text and type the digits again.",
        )
    return str(int(number)) if number == int(number) else repr(number)


def _no_text(raw: date | datetime | time | timedelta | CellError) -> Unreadable:
    if isinstance(raw, CellError):
        if raw.code:
            return _formula_error(raw.code)
        return Unreadable(
            "the formula in this cell was never worked out", "Open the file in a spreadsheet program and save it once."
        )
    return Unreadable(
        "the spreadsheet program made a date or time of what was typed",
        "Format the column as text and type it again.",
    )


def _formula_error(code: str) -> Unreadable:
    return Unreadable(f"the formula in this cell gives the error {code}", "Mend the formula, or type the value.")


def check_error(text: str) -> None:
    """Refuse a text that is a formula's error (text files and .ods files keep it so).

    Raises:
        Unreadable: it is one.
    """
    if _ERROR_TEXT.fullmatch(text):
        raise _formula_error(text)


def _read_text(raw: Raw, _heading: str) -> Parsed:
    text = as_text(raw)
    check_error(text)
    if _SCIENTIFIC.fullmatch(text):
        raise Unreadable(
            "the spreadsheet program shortened a long number, so digits are lost",
            "Format the column as text and type the digits again.",
        )
    return Parsed(text, _STRAY if isinstance(raw, str) and raw != text else "")


def _read_list_text(raw: Raw, _heading: str) -> Parsed:
    text = as_text(raw, LIST_LENGTH_MAX)
    check_error(text)
    return Parsed(text)


def _read_serial(raw: Raw, _heading: str) -> Parsed:
    text, change = _read_text(raw, _heading)
    joined = text.replace(" ", "")
    return Parsed(joined, _STRAY if joined != text else change)


def _identity(value: Any) -> Shown:
    shown: Shown = value
    return shown


TEXT: Final = Form("text", _read_text, _identity)
LIST_TEXT: Final = Form("a list, separated by commas", _read_list_text, _identity)
SERIAL: Final = Form("a serial number", _read_serial, _identity)

# numbers

_NUMBER: Final = re.compile(r"([+-]?(?:\d{1,3}(?:[ '’]\d{3})+|\d+)(?:[.,]\d+)*|[+-]?[.,]\d+)\s*([^\d\s].*)?")
_COMMA: Final = "a decimal comma was read as a decimal point"


def _figure(raw: Raw) -> tuple[float, str, str]:
    """Return the number of a cell, the unit written after it, and what was changed."""
    if isinstance(raw, int | float) and not isinstance(raw, bool):
        return raw, "", ""
    digits, written, change = figure_of(raw)
    return float(digits), written, change


def figure_of(raw: Raw) -> tuple[str, str, str]:
    """Return the digits of a cell's number with a decimal point, what is written after them, and what was changed.

    Raises:
        Unreadable: it holds no number, or one that may be read in two ways.
    """
    if isinstance(raw, bool):
        raise Unreadable("this is no number", "Write a number.")
    if isinstance(raw, int | float):
        return repr(raw), "", ""
    text = as_text(raw)
    check_error(text)
    found = _NUMBER.fullmatch(text.replace("−", "-"))
    if found is None:
        raise Unreadable("this is no number", "Write a number, such as 12.5.")
    digits, change = _plain_digits(found[1])
    return digits, (found[2] or "").strip(), change


def _plain_digits(digits: str) -> tuple[str, str]:
    digits = re.sub(r"[ '’]", "", digits)
    points, commas = digits.count("."), digits.count(",")
    if points and commas:  # the last of the two is the decimal mark, the other groups thousands
        mark, group = (".", ",") if digits.rindex(".") > digits.rindex(",") else (",", ".")
        digits = digits.replace(group, "")
        return _one_mark(digits.replace(mark, ".")), _COMMA if mark == "," else "thousands marks were taken away"
    if commas == 1 and re.fullmatch(r"[+-]?[1-9]\d{0,2},\d{3}", digits):
        raise Unreadable(
            "the comma may stand for thousands or for decimals",
            "Write the number without thousands mark, decimals with a point.",
        )
    if commas:
        return _one_mark(digits.replace(",", ".")), _COMMA
    return _one_mark(digits), ""


def _one_mark(digits: str) -> str:
    if digits.count(".") > 1:
        raise Unreadable("this is no number", "Write a number, such as 12.5.")
    return digits


def _at_least(number: float, least: float | None) -> float:
    if least is not None and number < least:
        raise Unreadable(f"the number is less than {least:g}", f"Write a number from {least:g} upwards.")
    return number


def number(unit: str = "", *, least: float | None = 0.0) -> Form:
    """Return the form of a number that may have its unit written after it."""

    def read(raw: Raw, _heading: str) -> Parsed:
        figure, written, change = _figure(raw)
        if written and written.casefold().replace(" ", "") not in {unit.casefold(), f"{unit.casefold()}."}:
            raise Unreadable(f'"{written}" is not the unit wanted', f"Write a number in {unit or 'plain digits'}.")
        return Parsed(float(_at_least(figure, least)), change)

    return Form(f"a number in {unit}" if unit else "a number", read, _identity, is_text=False)


def whole(unit: str = "", *, least: int | None = 0, words: Mapping[str, int] | None = None) -> Form:
    """Return the form of a whole number, its unit after it or not; ``words`` are numbers that people write out."""
    named = words or {}

    def read(raw: Raw, _heading: str) -> Parsed:
        if isinstance(raw, str) and clean(raw).casefold() in named:
            return Parsed(named[clean(raw).casefold()])
        figure, written, change = _figure(raw)
        if written.casefold() not in {"", unit} or figure != int(figure):
            raise Unreadable("this is no whole number", "Write a whole number, such as 3.")
        return Parsed(int(_at_least(figure, least)), change)

    return Form(f"a whole number of {unit}" if unit else "a whole number", read, _identity, is_text=False)


WHOLE: Final = whole()
FROM_ONE: Final = whole(least=1)
SIGNED: Final = whole(least=None)
POSITION: Final = whole(words={"primary": 0, "main": 0, "first": 0})

_IN_MM: Final = {
    "mm": 1.0, "cm": 10.0, "m": 1000.0, "metre": 1000.0, "metres": 1000.0, "meter": 1000.0, "meters": 1000.0,
    "km": 1e6, "in": 25.4, "inch": 25.4, "inches": 25.4, '"': 25.4, "″": 25.4,
    "ft": 304.8, "ft.": 304.8, "foot": 304.8, "feet": 304.8, "'": 304.8, "′": 304.8,
    "yd": 914.4, "yard": 914.4, "yards": 914.4,
}  # fmt: skip
"""Millimetres in a unit of length. The inch is 25.4 mm exactly, the foot 12 and the yard 36 of them (from memory)."""


def length(unit: str, *, least: float | None = 0.0, is_whole: bool = False) -> Form:
    """Return the form of a length kept in ``unit``; feet, inches and other metric units are converted."""

    def read(raw: Raw, heading: str) -> Parsed:
        figure, written, change = _figure(raw)
        written = written.casefold() or _unit_in(heading) or unit
        if written not in _IN_MM:
            raise Unreadable(f'"{written}" is no unit of length known here', f"Write the length in {unit}.")
        if _IN_MM[written] != _IN_MM[unit]:
            figure = round(figure * _IN_MM[written] / _IN_MM[unit], 3)
            change = f"{written} converted to {unit}"
        _at_least(figure, least)
        return Parsed(round(figure) if is_whole else float(figure), change)

    return Form(f"a length in {unit}", read, _identity, is_text=False)


def _unit_in(heading: str) -> str:
    return next((word for word in re.findall(r"[a-z]+", heading.casefold()) if word in _IN_MM and word != "in"), "")


def _read_ratio(raw: Raw, _heading: str) -> Parsed:
    figure, written, change = _figure(raw)
    if written not in {"", "%"}:
        raise Unreadable("this is no share", "Write 0.2 or 20 %.")
    if written == "%" or figure > 1:
        return Parsed(round(_at_least(figure, 0.0) / 100, 9), "per cent read as a share of one")
    return Parsed(float(_at_least(figure, 0.0)), change)


RATIO: Final = Form("a share, such as 0.2 or 20 %", _read_ratio, _identity, is_text=False)


def _read_part_of_one(raw: Raw, heading: str) -> Parsed:
    share, change = _read_ratio(raw, heading)
    if share > 1:
        raise Unreadable("this is more than the whole", "Write a share from 0 to 1, or up to 100 %.")
    return Parsed(share, change)


PART_OF_ONE: Final = Form("a share up to 1, such as 0.2 or 20 %", _read_part_of_one, _identity, is_text=False)

# yes and no, and words out of a list

_YES: Final = frozenset(
    ["yes", "y", "true", "t", "1", "x", "✓", "✔", "ja", "j", "oui", "o", "si", "sí", "sì", "s", "sim", "tak", "да"]
)
_NO: Final = frozenset(["no", "n", "false", "f", "0", "nein", "non", "não", "nee", "nej", "nie", "нет"])


def _read_yes_no(raw: Raw, _heading: str) -> Parsed:
    if isinstance(raw, bool):
        return Parsed(raw)
    word = as_text(raw).casefold()
    check_error(as_text(raw))
    if word in _YES:
        return Parsed(True)
    if word in _NO:
        return Parsed(False)
    raise Unreadable("this is neither yes nor no", "Write yes or no, or leave the cell blank where nobody knows yet.")


def _show_yes_no(value: Any) -> Shown:
    return None if value is None else ("yes" if value else "no")


YES_NO: Final = Form("yes or no", _read_yes_no, _show_yes_no, choices=("yes", "no"))


def squeezed(text: str) -> str:
    """Return a text as it is compared: any case of letters, without spaces and marks between words."""
    return re.sub(r"[\s_\-–—]+", "", text.casefold())


def choice(values: type[StrEnum], what: str, also: Mapping[str, str] | None = None) -> Form:
    """Return the form of one word out of a list; ``also`` are other words for the values."""
    known = {squeezed(word): value for word, value in (also or {}).items()}
    known |= {squeezed(value.value): value.value for value in values}
    listed = ", ".join(value.value for value in values)

    def read(raw: Raw, _heading: str) -> Parsed:
        text = as_text(raw)
        check_error(text)
        found = known.get(squeezed(text))
        if found is None:
            raise Unreadable(f"this is no {what} known here", f"Write one of: {listed}.")
        value = values(found)
        return Parsed(value, f"read as {value.value}" if squeezed(text) != squeezed(value.value) else "")

    return Form(
        f"one of: {listed}",
        read,
        lambda value: None if value is None else value.value,
        choices=tuple(v.value for v in values),
    )


def keyed(titles: Mapping[str, str], what: str) -> Form:
    """Return the form of one key of a table that ships with Doorwright; its title is understood too."""
    known = {squeezed(title): key for key, title in titles.items()} | {squeezed(key): key for key in titles}
    listed = ", ".join(titles)

    def read(raw: Raw, _heading: str) -> Parsed:
        text = as_text(raw)
        check_error(text)
        key = known.get(squeezed(text))
        if key is None:
            raise Unreadable(f"this is no {what} known here", f"Write one of: {listed}.")
        return Parsed(key, f"read as {key}" if squeezed(text) != squeezed(key) else "")

    return Form(f"one of: {listed}", read, _identity, choices=tuple(titles))


# the network

_MAC_MARKS: Final = re.compile(r"[\s:.\-–]")
_MAC: Final = re.compile(r"[0-9A-F]{12}")


def _read_mac(raw: Raw, _heading: str) -> Parsed:
    text = as_text(raw)
    check_error(text)
    digits = _MAC_MARKS.sub("", text).upper()
    if not _MAC.fullmatch(digits):
        raise Unreadable("this is no MAC address", "Write 12 hexadecimal digits, such as 00-00-5E-00-53-01.")
    mac = "-".join(digits[start : start + 2] for start in range(0, 12, 2))
    return Parsed(mac, "MAC address put in one form" if mac != text else "")


MAC: Final = Form("a MAC address", _read_mac, _identity)


def _address(text: str) -> str:
    try:
        return str(ipaddress.ip_address(text))
    except ValueError:
        raise Unreadable("this is no IP address", "Write four numbers up to 255, such as 192.0.2.10.") from None


def _read_address(raw: Raw, _heading: str) -> Parsed:
    text = as_text(raw)
    check_error(text)
    bare, slash, prefix = text.partition("/")
    if slash and not prefix.strip().isdigit():
        raise Unreadable("this is no IP address", "Write four numbers up to 255, such as 192.0.2.10.")
    address = _address(bare.strip())
    return Parsed(address, "the prefix length behind the address was left out" if slash else "")


ADDRESS: Final = Form("an IP address", _read_address, _identity)


def _read_cidr(raw: Raw, _heading: str) -> Parsed:
    text = as_text(raw)
    check_error(text)
    parts = re.split(r"\s*/\s*|\s+", text)
    try:
        if len(parts) != 2:
            raise ValueError(text)  # noqa: TRY301  (the same answer as for every other form)
        network = str(ipaddress.ip_network(f"{parts[0]}/{parts[1]}", strict=False))
    except ValueError:
        raise Unreadable(
            "this is no range of addresses", "Write the network and its prefix length, such as 192.0.2.0/24."
        ) from None
    return Parsed(network, "the range was put in prefix form, from its first address" if network != text else "")


CIDR: Final = Form("a range of addresses, such as 192.0.2.0/24", _read_cidr, _identity)


def _items(text: str) -> list[str]:
    return [clean(item) for item in re.split(r"[,;\n]", text) if clean(item)]


def _read_addresses(raw: Raw, _heading: str) -> Parsed:
    ranges = []
    for item in _items(as_text(raw, LIST_LENGTH_MAX)):
        check_error(item)
        ends = [_address(end.strip()) for end in re.split(r"[-–]", item)]
        if len(ends) > 2:
            raise Unreadable(
                "this is no list of addresses", "Write addresses or ranges: 192.0.2.1, 192.0.2.20-192.0.2.29."
            )
        ranges.append("-".join(ends))
    return Parsed(tuple(ranges))


def _show_list(value: Any) -> Shown:
    return ", ".join(value) or None


ADDRESSES: Final = Form("addresses or ranges a-b, separated by commas", _read_addresses, _show_list)


_DIGITS: Final = re.compile(r"(\d{1,20})(?:\s*(?:-|–|—|\bto\b)\s*(\d{1,20}))?")


def _read_numbers(raw: Raw, _heading: str) -> Parsed:
    ranges = []
    for item in _items(as_text(raw, LIST_LENGTH_MAX)):
        check_error(item)
        found = _DIGITS.fullmatch(item)
        if found is None:
            raise Unreadable(f'"{item}" is no call number', "Write numbers or ranges: 0, 9, 112, 900-999.")
        first, last = found[1], found[2]
        if last is not None and (int(last) < int(first) or len(last) < len(first)):
            raise Unreadable(f'"{item}" is no range of call numbers', "Write the lower number first, such as 900-999.")
        ranges.append(f"{first}-{last}" if last else first)
    return Parsed(tuple(ranges))


NUMBERS: Final = Form("call numbers or ranges a-b, separated by commas", _read_numbers, _show_list)


def _read_kinds(raw: Raw, _heading: str) -> Parsed:
    known = {"vcu": "VCU", "uru": "URU", "smu": "SMU", "switch": "switch"}
    found = []
    for item in _items(as_text(raw)):
        word = item.casefold()
        if word not in known and word.removesuffix("es").removesuffix("s") not in known and word != "switches":
            raise Unreadable(f'"{item}" is no kind of unit', "Write VCU, URU, SMU or switch, separated by commas.")
        found.append(known.get(word) or known.get(word.removesuffix("s")) or "switch")
    return Parsed(tuple(found))


UNIT_KINDS: Final = Form("VCU, URU, SMU or switch, separated by commas", _read_kinds, _show_list)

# time


def _read_windows(raw: Raw, _heading: str) -> Parsed:
    text = as_text(raw)
    check_error(text)
    try:
        return Parsed(windows_of(text))
    except WindowsUnreadable as error:
        raise Unreadable(
            str(error), "Write days and times, such as Mon-Fri 08:00-12:30, 13:30-18:00; Sat 9-12; Hol 10-12."
        ) from None


WINDOWS: Final = Form("days and times, such as Mon-Fri 08:00-18:00; Sat 9-12", _read_windows, show_windows)


def _read_zone(raw: Raw, _heading: str) -> Parsed:
    text, change = _read_text(raw, _heading)
    zones = available_timezones()
    if text in zones:
        return Parsed(text, change)
    found = {zone.casefold(): zone for zone in zones}.get(text.casefold().replace(" ", "_"))
    if found is None:
        raise Unreadable("this is no time zone known here", "Write continent and town, such as Europe/Paris, or UTC.")
    return Parsed(found, "time zone put in its usual form")


TIME_ZONE: Final = Form("a time zone, such as Europe/Paris", _read_zone, _identity)


def same(raw: Raw, shown: Shown) -> bool:
    """Whether a cell says what an export would have written there."""
    if shown is None:
        return False
    if isinstance(shown, str):
        if isinstance(raw, str):
            return raw == shown or clean(raw) == clean(shown)
        return isinstance(raw, int | float) and not isinstance(raw, bool) and abs(raw) < 1e15 and as_text(raw) == shown
    return not isinstance(raw, bool) and isinstance(raw, int | float) and f"{raw:.16G}" == f"{shown:.16G}"
