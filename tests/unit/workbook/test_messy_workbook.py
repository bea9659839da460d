"""A workbook as people make them, built by hand with openpyxl, is read as a person would read it."""

import openpyxl
import pytest

from doorwright.model.calling import TimetablePurpose, Window
from doorwright.model.door import FailMode, LockKind
from doorwright.model.place import PlaceKind
from doorwright.model.site import KeyOrder, NumberScheme, Site
from doorwright.model.unit import SecretUse, UnitKind
from doorwright.store.workbook import Reading
from tests.unit.workbook.shelf import read


@pytest.fixture(scope="module")
def reading(tmp_path_factory: pytest.TempPathFactory) -> Reading:
    book = openpyxl.Workbook()
    del book["Sheet"]

    sheet = book.create_sheet("Project")
    for line in [
        ["Project details", None, None],
        ["Project name", None, "Fenwick Yard"],
        ["Job no.", None, 4711],
        ["Timezone", None, "europe/london"],
        ["Grade", None, "2"],
        ["Spare", None, "25 %"],
        ["Numbering", None, "Running"],
        ["Key order", None, "Bottom level first"],
        ["Ambient", None, "35 °C"],
        ["Surveyed by", None, "P. Example"],
        ["Master code", None, "must never be kept"],
    ]:
        sheet.append(line)

    sheet = book.create_sheet("Flats")
    for line in [
        ["Fenwick Yard — schedule of flats", None, None, None, None, None, None],
        ["issued for information", None, None, None, None, None, None],
        [],
        ["Floor", "Block/Stair", "Flat No.", "Mac address", "S/N", "Handset type", "Tenure", "Door PIN", "UNIT TYPE"],
        ["Ground", "A", "Flat 1", "00:00:5e:00:53:0a", " X12345670 ", None, "shared", 1234, "uru-video"],
        [None, None, 2.0, "0000.5e00.530b", "X12345671", None, "rent", None, "Video user receiver unit"],
        ["1st floor", None, "03\u00a0", "00005E00530C", 12345672, None, None, None, "URU-VIDEO"],
        [None, None, "4–6", None, None, "wall", None, None, None],
        [None, None, None, None, None, None, None, None, None],
        ["Floor", "Block/Stair", "Flat No.", "Mac address", "S/N", None, None, None, None],
        ["B1", "B", "G01-G03", None, None, None, None, None, None],
        ["Ground", "B", "1", None, None, None, "a\nb", None, "uru-audio"],
    ]:
        sheet.append(line)
    sheet.merge_cells("A5:A6")
    sheet.merge_cells("A7:A8")
    sheet.merge_cells("B5:B8")

    sheet = book.create_sheet("Locations")
    sheet.append(["Room", "Type", "Staircase", "Floor"])
    sheet.append(["Lobby A", "Foyer", "Stair A", "ground"])
    sheet.append(["Riser A", "Riser cupboard", "A", "1st floor"])
    sheet.append(["Porter", "concierge", None, None])

    sheet = book.create_sheet("Entrances")
    sheet.append(["Entrance", "Flats served", "Location", "Concierge"])
    sheet.append(["Front", "A; B/G01-G03, b/1", "Lobby A", "x"])
    sheet.append(["Rear", "all", None, "NEIN"])

    sheet = book.create_sheet("Door panels")
    sheet.append(
        ["Panel", "Model", "Entrance", "Flat", "Block", "Height (m)", "IP", "Pos", "Registered with", "Network"]
    )
    sheet.append(["P1", "vcu-direct", "Front", None, None, "1,2", "192.0.2.10/24", "primary", None, "entry net"])
    sheet.append(["P2", "vcu-keypad", "Rear", None, None, "120 cm", None, 1, "P1", None])
    sheet.append(["Bedroom", "uru-audio", None, "Flat 1", "A", None, None, 1, "URU A/1", None])
    sheet.append(["Desk", "Concierge desk unit", None, None, None, None, None, None, "sip", None])
    sheet["J3"] = "Entry net"

    sheet = book.create_sheet("Doors")
    sheet.append(["Door", "Entrance", "Lock type", "Without power", "Released by", "Relay", "Open time", "Lock voltage",
                  "Lock current", "Escape route", "Fire door"])  # fmt: skip
    sheet.append(["Leaf", "front", "Maglock", "safe", "p1", 1, "5 s", "12 V", "0,45", "Y", "n"])

    sheet = book.create_sheet("Networks")
    sheet.append(["Network", "CIDR", "Router", "VLAN ID", "Excluded", "Used for"])
    sheet.append(
        [
            "Entry net",
            "192.0.2.0 / 255.255.255.0",
            "192.0.2.1",
            "20",
            "192.0.2.1; 192.0.2.50 – 192.0.2.59",
            "VCU; switches",
        ]
    )

    sheet = book.create_sheet("SIP servers")
    sheet.append(["Server", "IP address", "Realm"])
    sheet.append(["SIP", "192.0.2.2", "example.org"])

    sheet = book.create_sheet("Switches")
    sheet.append(["Switch", "Type", "Place", "Serial no"])
    sheet.append(["SW1", "switch-8", "riser a", "Q0000 0001"])

    sheet = book.create_sheet("Power supplies")
    sheet.append(["Supply", "Type", "Battery"])
    sheet.append(["PSU1", "supply-12v-5a", "7,2 Ah"])

    sheet = book.create_sheet("Cable schedule")
    sheet.append(["Cable no", "From", "To", "Port", "Length (ft)", "Cable type"])
    sheet.append(["C1", "SW1", "P1", 1, 110, "cat6"])
    sheet.append(["C2", "SW1", "P2", "2", "35 m", None])
    sheet.append([None, "PSU1", "Leaf", None, "12,5", None])

    sheet = book.create_sheet("Opening hours")
    sheet.append(["Timetable", "Entrance", "Purpose", "Times", "Divert to"])
    sheet.append(["Days", "Front", "Divert", "Mon-Fri 08:00-12:30, 13:30-18:00; Sat 9-12", "Desk"])
    sheet.append(["Days", None, None, "Sunday 10am to 2pm", None])
    sheet.append([None, None, None, "Fri 22:00 – 02:00", None])

    sheet = book.create_sheet("Ideas")
    sheet.append(["nothing", "to", "see"])
    sheet = book.create_sheet("Levels")
    sheet.append(["Floor", "Height"])
    sheet.append(["nowhere", 1])
    sheet.sheet_state = "hidden"

    path = tmp_path_factory.mktemp("messy") / "fenwick.xlsx"
    book.save(path)
    return read(path)


@pytest.fixture(scope="module")
def site(reading: Reading) -> Site:
    assert [str(mistake) for mistake in reading.mistakes] == []
    return reading.site


def core_name(site: Site, ident: str | None) -> str:
    return next(core.name for core in site.cores if core.id == ident)


def level_name(site: Site, ident: str | None) -> str:
    return next(level.name for level in site.levels if level.id == ident)


def dwelling_names(site: Site, idents: tuple[str, ...]) -> list[str]:
    known = {dwelling.id: f"{core_name(site, dwelling.core)}/{dwelling.door_label}" for dwelling in site.dwellings}
    return [known[ident] for ident in idents]


def test_the_sites_own_fields(site: Site) -> None:
    assert (site.name, site.reference, site.time_zone, site.grade) == ("Fenwick Yard", "4711", "Europe/London", 2)
    assert site.choices.spare_ratio == 0.25
    assert site.choices.ambient_c == 35.0
    assert site.choices.number_scheme is NumberScheme.RUNNING
    assert site.choices.key_order is KeyOrder.BOTTOM_UP
    assert site.notes == (("Surveyed by", "P. Example"),)


def test_dwellings_with_merged_cells_ranges_and_words_before_numbers(site: Site) -> None:
    rows = [(core_name(site, d.core), d.door_label, level_name(site, d.level)) for d in site.dwellings]
    assert rows == [
        ("A", "1", "Ground"),
        ("A", "2", "Ground"),
        ("A", "03", "1st floor"),
        ("A", "4", "1st floor"),
        ("A", "5", "1st floor"),
        ("A", "6", "1st floor"),
        ("B", "G01", "B1"),
        ("B", "G02", "B1"),
        ("B", "G03", "B1"),
        ("B", "1", "Ground"),
    ]


def test_one_unnamed_building_and_levels_in_order(site: Site) -> None:
    assert [building.name for building in site.buildings] == [""]
    assert {level.name: level.order for level in site.levels} == {"Ground": 0, "1st floor": 1, "B1": -1}


def test_columns_of_their_own_are_notes_but_secrets_are_not(site: Site) -> None:
    assert site.dwellings[0].notes == (("Tenure", "shared"),)
    assert site.dwellings[3].notes == (("Handset type", "wall"),)
    assert site.dwellings[9].notes == (("Tenure", "a\nb"),)
    assert "1234" not in repr(site.dwellings)
    assert "must never be kept" not in repr(site)


def test_first_receivers_come_from_the_list_of_dwellings(site: Site) -> None:
    receivers = [
        (unit.name, unit.profile, unit.serial, unit.mac, unit.position)
        for unit in site.units
        if unit.kind is UnitKind.URU and unit.position == 0
    ]
    assert receivers == [
        ("URU A/1", "uru-video", "X12345670", "00-00-5E-00-53-0A", 0),
        ("URU 2", "uru-video", "X12345671", "00-00-5E-00-53-0B", 0),
        ("URU 03", "uru-video", "12345672", "00-00-5E-00-53-0C", 0),
        ("URU B/1", "uru-audio", None, None, 0),
    ]


def test_places_and_entrances(site: Site) -> None:
    assert [(place.name, place.kind) for place in site.places] == [
        ("Lobby A", PlaceKind.LOBBY),
        ("Riser A", PlaceKind.RISER_CUPBOARD),
        ("Porter", PlaceKind.OFFICE),
    ]
    assert core_name(site, site.places[0].core) == "A"
    front, rear = site.entrances
    assert [core_name(site, ident) for ident in front.serves_cores] == ["A"]
    assert dwelling_names(site, front.serves_dwellings) == ["B/G01", "B/G02", "B/G03", "B/1"]
    assert (front.place, front.calls_desk) == (site.places[0].id, True)
    assert (rear.serves_buildings, rear.calls_desk) == ((site.buildings[0].id,), False)


def test_units_their_kind_height_and_registrar(site: Site) -> None:
    units = {unit.name: unit for unit in site.units}
    first, second, bedroom, desk = units["P1"], units["P2"], units["Bedroom"], units["Desk"]
    assert (first.kind, first.height_mm, first.position, first.address) == (UnitKind.VCU, 1200, 0, "192.0.2.10")
    assert (second.profile, second.height_mm, second.registrar) == ("vcu-keypad", 1200, first.id)
    assert first.subnet == second.subnet == site.subnets[0].id
    assert dwelling_names(site, (str(bedroom.dwelling),)) == ["A/1"]
    assert bedroom.registrar == units["URU A/1"].id
    assert (desk.kind, desk.registrar) == (UnitKind.SMU, site.servers[0].id)


def test_doors_and_supplies_with_units_behind_their_figures(site: Site) -> None:
    door = site.doors[0]
    assert (door.lock, door.fail_mode, door.output, door.release_s) == (LockKind.MAGNET, FailMode.SAFE, 1, 5.0)
    assert (door.lock_rated_v, door.lock_operate_a, door.lock_minimum_v) == (12.0, 0.45, None)
    assert (door.escape_route, door.fire_door, door.fire_release) == (True, False, None)
    assert door.freed_by == next(unit.id for unit in site.units if unit.name == "P1")
    assert site.supplies[0].battery_ah == 7.2


def test_the_network(site: Site) -> None:
    subnet = site.subnets[0]
    assert (subnet.cidr, subnet.gateway, subnet.vlan) == ("192.0.2.0/24", "192.0.2.1", 20)
    assert subnet.reserved == ("192.0.2.1", "192.0.2.50-192.0.2.59")
    assert subnet.kinds == ("VCU", "switch")
    assert (site.servers[0].name, site.servers[0].port) == ("SIP", 5060)
    assert (site.switches[0].serial, site.switches[0].place) == ("Q00000001", site.places[1].id)


def test_cables_in_feet_metres_and_without_name(site: Site) -> None:
    # 110 ft at 0.3048 m exactly (international foot; from memory) is 33.528 m; a bare figure under "(ft)" is feet too:
    # 12.5 ft x 0.3048 = 3.81 m
    assert [(run.name, run.length_m, run.near_port) for run in site.runs] == [
        ("C1", 33.528, 1),
        ("C2", 35.0, 2),
        ("PSU1 to Leaf", 3.81, None),
    ]
    assert site.runs[2].far == site.doors[0].id


def test_rows_of_one_timetable_are_joined(site: Site) -> None:
    (timetable,) = site.timetables
    workdays = (0, 1, 2, 3, 4)
    assert timetable.purpose is TimetablePurpose.DIVERT
    assert timetable.divert_to == next(unit.id for unit in site.units if unit.name == "Desk")
    assert timetable.windows == (
        Window(days=workdays, start_min=480, end_min=750),
        Window(days=workdays, start_min=810, end_min=1080),
        Window(days=(5,), start_min=540, end_min=720),
        Window(days=(6,), start_min=600, end_min=840),
        Window(days=(4,), start_min=1320, end_min=120),
    )


def test_only_the_unit_types_in_use_are_kept(site: Site) -> None:
    assert {profile.key for profile in site.profiles} == {
        "vcu-direct", "vcu-keypad", "uru-video", "uru-audio", "smu-desk", "switch-8", "supply-12v-5a", "key-module-6",
    }  # fmt: skip
    assert SecretUse.SIP  # no sealed lines come from a person's workbook
    assert site.secrets == ()


def test_what_was_changed_is_remarked_once_with_a_count(reading: Reading) -> None:
    remarks = {(remark.change, remark.where): remark for remark in reading.remarks}
    mac = remarks["MAC address put in one form", 'sheet "Flats", row 5, column D "Mac address"']
    assert (mac.count, mac.read, mac.kept) == (3, "00:00:5e:00:53:0a", "00-00-5E-00-53-0A")
    changes = [remark.change for remark in reading.remarks]
    for change in (
        "a range was read as one row for each label",
        "the word before the number was left out, as in other rows",
        "a merged cell was read for each of its rows",
        "headings that stand again within the list were passed over",
        "this core is listed nowhere and was made from its name",
        "the order of a level was guessed from its name",
        "this hidden sheet was not read; show it to have it read",
        "this sheet was not read: its name is none of those known",
        "this column was not read: secrets do not belong in a workbook",
        "a decimal comma was read as a decimal point",
        "ft converted to m",
    ):
        assert change in changes, change
