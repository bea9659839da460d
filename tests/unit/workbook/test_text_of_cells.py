"""Single texts: labels and ranges, orders of levels, windows, MAC addresses, lengths."""

from typing import Any

import pytest

from doorwright.model.calling import Window
from doorwright.store.workbook.labels import ImpossibleRange, compressed, labels_of, level_order, listed_labels
from doorwright.store.workbook.layout import is_secret_heading
from doorwright.store.workbook.report import letter, shorten
from doorwright.store.workbook.values import ADDRESS, CIDR, MAC, RATIO, YES_NO, Unreadable, length, number
from doorwright.store.workbook.windows import WindowsUnreadable, show_windows, windows_of


@pytest.mark.parametrize(
    ("text", "labels"),
    [
        ("1-3", ("1", "2", "3")),
        ("G01-G03", ("G01", "G02", "G03")),
        ("G08–10", ("G08", "G09", "G10")),
        ("098-101", ("098", "099", "100", "101")),
        ("8 to 10", ("8", "9", "10")),
        ("12", None),
        ("B2-14", None),
        ("Penthouse", None),
    ],
)
def test_ranges(text: str, labels: tuple[str, ...] | None) -> None:
    assert labels_of(text) == labels


@pytest.mark.parametrize("text", ["24-1", "1-5001", "A1-B2"])
def test_impossible_ranges(text: str) -> None:
    with pytest.raises(ImpossibleRange):
        labels_of(text)


def test_lists_of_labels_and_ranges_written_short() -> None:
    assert listed_labels("1-3, 5; G07") == ("1", "2", "3", "5", "G07")
    assert listed_labels("Smith, J") is None
    names = ["A/1", "A/2", "A/3", "B/1", "B/2", "G09", "G10", "G11", "x", "8", "9", "10"]
    assert compressed(names) == ["A/1-3", "B/1", "B/2", "G09-G11", "x", "8-10"]


@pytest.mark.parametrize(
    ("name", "order"),
    [
        ("B2", -2), ("Basement", -1), ("Lower ground", -1), ("-1", -1),
        ("G", 0), ("Ground floor", 0), ("EG", 0), ("0", 0),
        ("1", 1), ("01", 1), ("L3", 3), ("Level 12", 12),
        ("1st floor", 1), ("2nd", 2), ("Third Floor", 3), ("4. OG", 4),
        ("Roof", None), ("Mezzanine", None),
    ],
)  # fmt: skip
def test_what_the_name_of_a_level_tells(name: str, order: int | None) -> None:
    assert level_order(name) == order


WORKDAYS = (0, 1, 2, 3, 4)


@pytest.mark.parametrize(
    ("text", "windows"),
    [
        ("Mon-Fri 08:00-12:30, 13:30-18:00; Sat 9-12", [(WORKDAYS, 480, 750), (WORKDAYS, 810, 1080), ((5,), 540, 720)]),
        ("weekdays 9am-5:30pm", [(WORKDAYS, 540, 1050)]),
        ("Tue, Thu 22:00-06:00", [((1, 3), 1320, 360)]),
        ("Fri-Mon 00:00-24:00", [((4, 5, 6, 0), 0, 1440)]),
        ("07:00 – 19:00", [(tuple(range(7)), 420, 1140)]),
        ("Sat; Sun 12am-12pm", [((5,), 0, 1440), ((6,), 0, 720)]),
        ("24/7", [(tuple(range(7)), 0, 1440)]),
        ("Mo+We: 8.30-9", [((0, 2), 510, 540)]),
        ("Mondays to Thursdays 8-9", [((0, 1, 2, 3), 480, 540)]),
        ("Mo Tu 8h30-9h", [((0, 1), 510, 540)]),
        ("Mon-Fri 8-18; Hol 10-12", [(WORKDAYS, 480, 1080), ((7,), 600, 720)]),
        ("weekends and bank holidays 10-12", [((5, 6, 7), 600, 720)]),
        ("Public holidays", [((7,), 0, 1440)]),
        ("Sat, Sun, Hols 9am-1pm", [((5, 6, 7), 540, 780)]),
        (
            "daily 8-18; national holiday: 8-9, 17-18",
            [(tuple(range(7)), 480, 1080), ((7,), 480, 540), ((7,), 1020, 1080)],
        ),
    ],
)
def test_windows(text: str, windows: list[tuple[Any, ...]]) -> None:
    expected = tuple(Window(days=days, start_min=start, end_min=end) for days, start, end in windows)
    assert windows_of(text) == expected
    assert windows_of(str(show_windows(expected))) == expected


@pytest.mark.parametrize("text", ["Sat-Hol 8-9", "Mon-Fri 8-18 except holidays", "Hol closed", "Funday 8-9", "8-25"])
def test_what_names_no_windows(text: str) -> None:
    with pytest.raises(WindowsUnreadable):
        windows_of(text)


@pytest.mark.parametrize(
    "text", ["00:00:5e:00:53:01", "00-00-5E-00-53-01", "0000.5e00.5301", "00005e005301", "00 00 5E 00 53 01"]
)
def test_macs(text: str) -> None:
    assert MAC.read(text, "").value == "00-00-5E-00-53-01"


@pytest.mark.parametrize("text", ["00:00:5e:00:53", "00:00:5e:00:53:0g", "", "5005301"])
def test_no_macs(text: str) -> None:
    with pytest.raises(Unreadable):
        MAC.read(text, "")


@pytest.mark.parametrize(
    ("raw", "heading", "metres"),
    [
        ("35 m", "", 35.0), ("12,5", "", 12.5), (12, "", 12.0), ("110 ft", "", 33.528), ("100'", "", 30.48),
        (100, "Length (ft)", 30.48), ("3500 mm", "Length (ft)", 3.5),
        ("1.234,5 m", "", 1234.5), ("1 234.5", "", 1234.5),
        ("0.1 km", "", 100.0), ("1'250 m", "", 1250.0), ("10 yd", "", 9.144),
    ],
)  # fmt: skip
def test_lengths(raw: Any, heading: str, metres: float) -> None:
    # the international foot is 0.3048 m and the yard 0.9144 m, exactly (from memory)
    assert length("m").read(raw, heading).value == metres


def test_other_values() -> None:
    assert [YES_NO.read(raw, "").value for raw in ("Yes", "x", "JA", "oui", True, 1.0, "1")] == [True] * 7
    assert [YES_NO.read(raw, "").value for raw in ("no", "Nein", "non", False, 0.0, "0")] == [False] * 6
    assert RATIO.read("20 %", "").value == RATIO.read(0.2, "").value == RATIO.read("0,2", "").value == 0.2
    assert CIDR.read("192.0.2.7/28", "").value == "192.0.2.0/28"
    assert ADDRESS.read(" 2001:DB8::1 ", "").value == "2001:db8::1"
    assert number("V").read("12 V", "").value == 12.0


def test_columns_by_letter_and_values_cut_short() -> None:
    assert [letter(column) for column in (0, 25, 26, 701, 702, 16383)] == ["A", "Z", "AA", "ZZ", "AAA", "XFD"]
    assert len(shorten("x" * 1000)) == 60
    assert shorten("a\nb\tc") == "a b c"


@pytest.mark.parametrize("heading", ["Password", "SIP secret", "PIN", "Door code", "Access PIN", "pass word", "PWD"])
def test_headings_of_secrets(heading: str) -> None:
    assert is_secret_heading(heading)


@pytest.mark.parametrize("heading", ["Postcode", "Spinning room", "Passage", "Opinion", "Secretary"])
def test_headings_of_no_secrets(heading: str) -> None:
    assert not is_secret_heading(heading)
