"""Settings tables as programs write them, read through a column map."""

from pathlib import Path

import pytest
import xlsxwriter

from doorwright.kernel.errors import Refused
from doorwright.kernel.verdict import Subject
from doorwright.model.aspect import SITE_SUBJECT, Aspect, stranger
from doorwright.model.network import Switch
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rules.example import put
from doorwright.rules.sound import sound_site
from doorwright.store.found import TARGET_BY_WORD, FoundTable, columns_from, guess, read_found
from doorwright.store.workbook.values import Unreadable

WALK = Walk(sound_site())
BY_NAME = ("unit=Name", "address=IP", "mac=MAC", "call-number=Number", "registrar=Server", "registered=State")
BY_PORT = ("port=Port", "mac=MAC", "link-speed=Speed", "poe-power=PoE mW")


def table(folder: Path, text: str, *, name: str = "table.csv", encoding: str = "utf-8") -> Path:
    place = folder / name
    place.write_bytes(text.encode(encoding))
    return place


def read(place: Path, given: tuple[str, ...], *, walk: Walk = WALK, switch: str | None = None) -> FoundTable:
    columns, mistakes = columns_from(given)
    assert mistakes == ()
    return read_found(place, columns, walk, switch=switch)


def values(found: FoundTable, ident: str) -> dict[str, str]:
    return {one.aspect: one.value for one in found.sightings if one.subject.id == ident}


# what stands in a cell


@pytest.mark.parametrize(
    ("word", "cell", "value"),
    [
        ("mac", "00:00:5e:00:53:07", "00-00-5E-00-53-07"),
        ("mac", "0000.5e00.5307", "00-00-5E-00-53-07"),
        ("address", "192.0.2.22/24", "192.0.2.22"),
        ("mask", "/26", "255.255.255.192"),  # RFC 4632: 26 ones, 11000000 is 192
        ("mask", 24.0, "255.255.255.0"),
        ("registrar", "sip:uru102@192.0.2.16:5060;transport=udp", "192.0.2.16"),
        ("registrar", "<sip:192.0.2.16>", "192.0.2.16"),
        ("registrar", "Registrar.Example", "registrar.example"),
        ("position", "Primary", "0"),
        ("vlan", 20.0, "20"),
        ("port", "1/0/7", "7"),
        ("port", 7.0, "7"),
        ("link-speed", "1 Gb/s", "1000"),
        ("link-speed", "100M full", "100"),
        ("link-speed", "100000000", "100"),
        ("link-speed", "2.5G", "2500"),
        ("link-speed", "No link", "down"),
        ("poe-power", "4300 mW", "4.3"),
        ("poe-power", "4,3 W", "4.3"),
        ("registered", "Not registered", "no"),
        ("registered", True, "yes"),
        ("call-number", 102.0, "102"),
    ],
)
def test_a_cell_is_put_in_one_form(word: str, cell: str | float | bool, value: str) -> None:
    assert TARGET_BY_WORD[word].form.read(cell, "").value == value


@pytest.mark.parametrize(
    ("word", "cell"),
    [
        ("mac", "00-00-5E"),
        ("mask", "/33"),
        ("address", "192.0.2.300"),
        ("registrar", "two words"),
        ("registrar", "192.0.2.999"),
        ("port", "uplink"),
        ("port", "0"),
        ("link-speed", "quick"),
        ("link-speed", "77"),
        ("poe-power", "-"),
        ("registered", "perhaps"),
        ("vlan", "0"),
        ("firmware", "#REF!"),
    ],
)
def test_a_cell_that_says_something_else_is_refused(word: str, cell: str) -> None:
    with pytest.raises(Unreadable):
        TARGET_BY_WORD[word].form.read(cell, "")


# column maps


def test_everything_wrong_in_a_column_map_is_told_at_once() -> None:
    _, mistakes = columns_from(("mac=MAC", "mac=Other", "speed=Speed", "unit", "serial=Admin password", "address=mac"))
    assert [mistake.read for mistake in mistakes] == [
        "mac=Other", "speed=Speed", "unit", "serial=Admin password", "address=mac",
    ]  # fmt: skip


def test_a_column_map_must_tell_which_unit_a_row_is_about() -> None:
    _, mistakes = columns_from(("firmware=Version",))
    assert "which unit" in mistakes[0].problem


@pytest.mark.parametrize(
    ("heading", "word"), [("MAC-Address", "mac"), ("Device name", "unit"), ("IP", "address"), ("Mood", None)]
)
def test_a_guess_is_offered_by_the_heading(heading: str, word: str | None) -> None:
    found = guess(heading)
    assert (found.word if found else None) == word


# tables


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
@pytest.mark.parametrize("mark", [",", ";", "\t"])
def test_a_text_table_is_read_in_every_dialect(tmp_path: Path, encoding: str, mark: str) -> None:
    text = "Export,,,,,\n\nName,IP,MAC,Number,Server,State\nURU 102,192.0.2.99,00005E005307,,192.0.2.16,off line\n"
    found = read(table(tmp_path, text.replace(",", mark), encoding=encoding), BY_NAME)
    assert found.mistakes == ()
    assert values(found, "uru-2") == {
        Aspect.NAME: "URU 102",
        Aspect.ADDRESS: "192.0.2.99",
        Aspect.MAC: "00-00-5E-00-53-07",
        Aspect.REGISTRAR: "192.0.2.16",
        Aspect.REGISTERED: "no",
    }


def test_a_workbook_with_several_sheets_is_read_and_other_sheets_are_told(tmp_path: Path) -> None:
    place = tmp_path / "units.xlsx"
    with xlsxwriter.Workbook(place) as book:
        for sheet, rows in (
            ("Core A", [["Name", "IP"], ["URU 101", "192.0.2.20"]]),
            ("Core B", [["IP", "Name"], ["192.0.2.23", "uru 201"]]),
            ("Legend", [["Colour", "Meaning"], ["red", "bad"]]),
        ):
            made = book.add_worksheet(sheet)
            for number, row in enumerate(rows):
                made.write_row(number, 0, row)
    found = read(place, ("unit=name", "address=ip"))
    assert values(found, "uru-1") == {Aspect.NAME: "URU 101", Aspect.ADDRESS: "192.0.2.20"}
    assert values(found, "uru-3") == {Aspect.NAME: "uru 201", Aspect.ADDRESS: "192.0.2.23"}
    assert [remark.where for remark in found.remarks] == ['sheet "Legend"']


def test_columns_that_may_hold_secrets_are_never_read(tmp_path: Path) -> None:
    text = "Name,IP,Admin password,PIN,Mood,Firmware version\nURU 102,192.0.2.22,hunter2,4711,fine,3.2\n"
    found = read(table(tmp_path, text), ("unit=Name", "address=IP"))
    assert [(one.heading, one.may_be_secret, one.suggestion) for one in found.unread] == [
        ("Admin password", True, ""),
        ("PIN", True, ""),
        ("Mood", False, ""),
        ("Firmware version", False, '--map "firmware=Firmware version"'),
    ]
    assert "hunter2" not in repr(found)
    assert "4711" not in repr(found)
    # the reader itself keeps to it, whatever map it is given
    with pytest.raises(Refused, match="no sheet"):
        read_found(tmp_path / "table.csv", (("unit", "Admin password"),), WALK)


def test_the_name_comes_before_the_serial_number_before_mac_port_and_address(tmp_path: Path) -> None:
    given = ("unit=U", "serial=S", "mac=M", "port=P", "address=A")
    rows = (
        "URU 101,A00000007,,,", "nobody,A00000007,00-00-5E-00-53-08,,", ",,00-00-5E-00-53-09,1,",
        ",,00-00-5E-00-53-99,2,192.0.2.16", ",,,,192.0.2.19",
    )  # fmt: skip
    text = "U,S,M,P,A\n" + "\n".join(rows)
    found = read(table(tmp_path, text), given, switch="s1")
    assert found.mistakes == ()
    assert list(dict.fromkeys(one.subject.id for one in found.sightings)) == [
        "uru-1", "uru-2", "uru-4", "vcu-rear", "smu-desk",
    ]  # fmt: skip


def test_a_row_of_a_switch_table_is_about_what_is_planned_at_the_port(tmp_path: Path) -> None:
    found = read(table(tmp_path, "Port,MAC,Speed,PoE mW\n7,,100M,4300\n12,,down,\n"), BY_PORT, switch="S1")
    assert values(found, "uru-2") == {Aspect.PORT: "S1 port 7", Aspect.LINK: "100", Aspect.POE: "4.3"}
    assert len(found.sightings) == 3  # nothing is planned at port 12, and nothing is there


def test_a_port_between_switches_says_nothing_of_the_unit_seen_through_it(tmp_path: Path) -> None:
    # port 17 of S1 leads to S2; at port 12 two units are seen, so another switch lies behind it
    rows = ("17,00-00-5E-00-53-08,1G,", "12,00-00-5E-00-53-05,100,5000", "12,00-00-5E-00-53-06,100,5000")
    text = "Port,MAC,Speed,PoE mW\n" + "\n".join(rows)
    found = read(table(tmp_path, text), BY_PORT, switch="S1")
    assert found.mistakes == ()
    assert [one.aspect for one in found.sightings] == [Aspect.MAC] * 3


def test_what_is_in_no_plan_is_kept_on_the_site(tmp_path: Path) -> None:
    text = "Port,MAC,Speed,PoE mW\n12,00-00-5E-00-53-99,1G,\n13,,1G,\n"
    found = read(table(tmp_path, text), BY_PORT, switch="S1")
    assert [(one.subject, one.aspect, one.value) for one in found.sightings] == [
        (SITE_SUBJECT, stranger(Aspect.MAC, "00-00-5E-00-53-99"), "link speed 1000 Mb/s, switch port S1 port 12"),
        (SITE_SUBJECT, stranger(Aspect.PORT, "S1 port 13"), "link speed 1000 Mb/s"),
    ]
    assert (found.parts_count, found.strangers_count) == (0, 2)


def test_a_switch_is_a_part_too(tmp_path: Path) -> None:
    found = read(table(tmp_path, "Name,IP\nS2,198.51.100.3\n"), ("unit=Name", "address=IP"))
    assert found.sightings[0].subject == Subject(Switch.KIND, "switch-2")


def test_every_mistake_of_a_table_is_told_at_once_with_its_place(tmp_path: Path) -> None:
    text = "Port,MAC,Speed,PoE mW\n1,zz,quick,\nx,,,\n,,100,\n3,00-00-5E-00-53-07,,\n4,00-00-5E-00-53-07,,\n"
    found = read(table(tmp_path, text), BY_PORT, switch="S1")
    assert [mistake.where for mistake in found.mistakes] == [
        'sheet "table", row 2, column B "MAC"',
        'sheet "table", row 2, column C "Speed"',
        'sheet "table", row 3, column A "Port"',
        'sheet "table", row 4',
        'sheet "table", row 6, column A "Port"',
    ]
    assert "S1 port 3 in" in found.mistakes[-1].problem


def test_a_mapped_column_that_is_missing_or_there_twice_is_a_mistake(tmp_path: Path) -> None:
    found = read(table(tmp_path, "Name,IP,IP\nURU 102,192.0.2.22,\n"), ("unit=Name", "address=IP", "mac=MAC"))
    assert sorted(mistake.problem for mistake in found.mistakes) == [
        "the mapped column is not there",
        "two columns have this heading",
    ]


def test_what_is_that_of_several_parts_is_a_mistake_unless_something_tells_them_apart(tmp_path: Path) -> None:
    walk = Walk(put(Unit, "uru-3", name="URU 102")(sound_site()))
    text = "Name,MAC\nURU 102,\nURU 102,00-00-5E-00-53-08\n"
    found = read(table(tmp_path, text), ("unit=Name", "mac=MAC"), walk=walk)
    assert [mistake.where for mistake in found.mistakes] == ['sheet "table", row 2']
    assert list(values(found, "uru-3")) == [Aspect.NAME, Aspect.MAC]


def test_the_name_that_a_unit_goes_by_is_kept_where_something_else_tells_which_it_is(tmp_path: Path) -> None:
    text = "Name,MAC\nFactory name,00-00-5E-00-53-08\n"
    found = read(table(tmp_path, text), ("unit=Name", "mac=MAC"))
    assert values(found, "uru-3") == {Aspect.NAME: "Factory name", Aspect.MAC: "00-00-5E-00-53-08"}


def test_rows_that_say_the_same_in_other_letters_do_not_contradict_each_other(tmp_path: Path) -> None:
    text = "Name,Serial\nURU 102,a00000007\n,\nuru 102,A00000007\n"
    found = read(table(tmp_path, text), ("unit=Name", "serial=Serial"))
    assert found.mistakes == ()
    assert values(found, "uru-2") == {Aspect.NAME: "URU 102", Aspect.SERIAL: "a00000007"}


def test_a_port_without_a_switch_and_an_unknown_switch_are_told(tmp_path: Path) -> None:
    place = table(tmp_path, "Port,MAC,Speed,PoE mW\n1,,,\n")
    assert "nothing says of which switch" in read(place, BY_PORT).mistakes[0].problem
    with pytest.raises(Refused, match="no switch 'S9'"):
        read(place, BY_PORT, switch="S9")
    named = table(tmp_path, "Switch,Port\nS9,1\n", name="named.csv")
    assert "no one switch" in read(named, ("switch=Switch", "port=Port")).mistakes[0].problem


def test_a_table_without_the_columns_is_refused_with_its_headings(tmp_path: Path) -> None:
    with pytest.raises(Refused) as refused:
        read(table(tmp_path, "Colour,Mood\nred,fine\n"), BY_NAME)
    assert "Colour, Mood" in refused.value.remedy
