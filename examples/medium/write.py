"""Write medium.xlsx: the workbook that a tidy but human engineer keeps for an invented building of 64 flats.

README.md tells what the building is. Run it again and the same bytes come out.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from examples.book import Book, Cell, Row, run
from xlsxwriter.worksheet import Worksheet

HEIGHT_M: Final = {"B": -3.2, "G": 0.0, **{str(level): round(3.6 + 3.1 * (level - 1), 1) for level in range(1, 8)}}
STAIRS: Final = ("A", "B", "C")
ALONG_M: Final = {"A": 0.0, "B": 34.0, "C": 71.0}
"""How far along the building each stair's riser stands."""

FLATS_ON: Final = {
    "A": {"G": 3, **{str(level): 3 for level in range(1, 8)}},
    "B": {**{str(level): 3 for level in range(1, 7)}, "7": 2},
    "C": {**{str(level): 3 for level in range(1, 7)}, "7": 2},
}
"""Flats by stair and floor: 24, 20 and 20."""

LOWER_FLOORS: Final = ("G", "1", "2", "3")
RISER_OF: Final = {"lower": "1", "upper": "5"}
"""On which floor the cupboards stand whose switch feeds the lower and the upper floors."""


@dataclass(frozen=True, slots=True)
class Flat:
    """One flat: its number, stair, floor, and which it is along its landing."""

    number: int
    stair: str
    floor: str
    along: int

    @property
    def riser(self) -> str:
        """The cupboard that feeds it."""
        return "lower" if self.floor in LOWER_FLOORS else "upper"


def flats() -> list[Flat]:
    """Return the flats, numbered through the whole building."""
    places = [
        (stair, floor, along) for stair in STAIRS for floor, many in FLATS_ON[stair].items() for along in range(many)
    ]
    return [Flat(number, *place) for number, place in enumerate(places, start=1)]


EXTRA_RECEIVERS: Final = (
    ("URU 5 bedroom", 5, 1), ("URU 5 study", 5, 2), ("URU 9 bedroom", 9, 1), ("URU 27 bedroom", 27, 1),
    ("URU 42 upstairs", 42, 1), ("URU 46 bedroom", 46, 1), ("URU 50 bedroom", 50, 1), ("URU 64 upstairs", 64, 1),
)  # fmt: skip
"""Second and third receivers, sound only: name, flat, and position in the flat."""


class Boxes:
    """Serial numbers and MAC addresses as they come off the boxes. The MACs are those for documentation (RFC 7042)."""

    def __init__(self) -> None:
        self._count = 0

    def serial(self, letter: str) -> str:
        """Return the next serial number: a letter and eight digits."""
        self._count += 1
        return f"{letter}{26_010_000 + 37 * self._count:08d}"

    def mac(self) -> str:
        """Return the MAC of the box last opened; two people wrote them down, each in their own way."""
        digits = f"00005E0053{self._count:02X}"
        mark = ":" if self._count % 3 == 0 else "-"
        text = mark.join(digits[at : at + 2] for at in range(0, 12, 2))
        return text.lower() if mark == ":" else text


def along_m(flat: Flat) -> float:
    """Return the way from the riser along the landing to a flat's receiver."""
    return 9.0 + 7.5 * flat.along


def run_m(flat: Flat) -> float:
    """Return the length of a flat's cable: up or down the riser, along the landing, and slack."""
    up_m = abs(HEIGHT_M[flat.floor] - HEIGHT_M[RISER_OF[flat.riser]])
    return round(2 * (up_m + along_m(flat) + 4.0)) / 2


# the sheets


def site_rows() -> list[Row]:
    return [
        ("Project", "Tallow Yard"),
        ("Job no", "DE-2614"),
        ("Time zone", "Europe/London"),
        ("Standard", "IEC 62820-1-1:2016"),
        ("Grade", 1),
        ("Records kept by", "Managing agent"),
        ("Numbering scheme", "as on the door"),
        ("Digits", 2),
        ("Key order", "top level first"),
        ("Spare", "20 %"),
        ("Ambient temperature (°C)", 30),
        ("Ringing", "all at once"),
        ("Ring time", "40 s"),
        ("Reserved numbers", "00, 90-99"),
        ("Currency", "EUR"),
        ("Cable slack", "5 m"),
        ("Waste", "10 %"),
        ("Spare parts", "5 %"),
        ("Standby practice", "plain"),
        ("Calls a day", 2),
        ("Client contact", "see the job file"),
    ]


def flat_rows() -> Iterator[Row]:
    remarks = {
        12: "Owner asks for a louder ring", 24: "Top floor, long corridor", 33: "Let furnished", 47: "Dog!",
        60: "Access by appointment only",
    }  # fmt: skip
    for flat in flats():
        # whoever typed stair B wrote "Flat 25"; in stair C the numbers were pasted as text
        written: dict[str, Cell] = {"A": flat.number, "B": f"Flat {flat.number}", "C": str(flat.number)}
        legend = "Residents' association, estate office and parcel room" if flat.number == 1 else None
        keys_count = 2 if flat.number % 5 else 3
        ringing, ring_s = ("one after another", 20) if flat.number == 5 else (None, None)
        remark = remarks.get(flat.number)
        told = (flat.floor, written[flat.stair], legend, ringing, ring_s, along_m(flat), keys_count, remark)
        yield f"Stair {flat.stair}", *told


def panel_rows(boxes: Boxes) -> Iterator[Row]:
    panels = (
        ("Gate panel", "Touch-screen visitor call unit with directory", "Gate", "5.1"),
        ("Panel A", "vcu-direct", "Entrance A", "3.2"),
        ("Panel B", "vcu-direct", "Entrance B", "3.0"),
        ("Panel C", "vcu-direct", "Entrance C", "3.2"),
        ("Garage panel", "Keypad visitor call unit with display", "Garage", "3.2"),
    )
    for name, kind, entrance, firmware in panels:
        yield name, kind, entrance, None, boxes.serial("P"), boxes.mac(), firmware, 1200
    # still in its box at the shop: nobody noted the MAC
    yield "Concierge desk", "smu-desk", None, "Concierge office", boxes.serial("P"), None, "3.2", 800


def receiver_rows(boxes: Boxes) -> Iterator[Row]:
    for flat in flats():
        serial = boxes.serial("R")
        mac = boxes.mac()
        if flat.number == 31:
            serial = serial.replace("0", "O", 1)
        firmware = None if flat.number in {19, 20} else "3.2"
        shown = None if flat.number == 54 else serial
        height = 1400 if flat.number == 22 else 1200
        yield f"URU {flat.number}", "Video user receiver unit", flat.number, None, shown, mac, firmware, height
    for name, number, position in EXTRA_RECEIVERS:
        agreed = None if "upstairs" in name else 1200  # where those upstairs go is not settled yet
        yield name, "uru-audio", f"Flat {number}", position, boxes.serial("R"), boxes.mac(), "2.4", agreed


SWITCHES: Final = (
    ("SW-A1", "switch-24", "A", "lower"),
    ("SW-A2", "switch-16", "A", "upper"),
    ("SW-B1", "switch-16", "B", "lower"),
    ("SW-B2", "switch-16", "B", "upper"),
    ("SW-C1", "switch-16", "C", "lower"),
    ("SW-C2", "switch-16", "C", "upper"),
)


def riser(stair: str, which: str) -> str:
    """Return the name of a riser cupboard."""
    return f"Riser {stair}, floor {RISER_OF[which]}"


def switch_rows(boxes: Boxes) -> Iterator[Row]:
    for name, kind, stair, which in SWITCHES:
        yield name, kind, riser(stair, which), boxes.serial("S"), boxes.mac()


def place_rows() -> Iterator[Row]:
    for stair in STAIRS:
        for which in ("lower", "upper"):
            main = "yes" if (stair, which) == ("A", "lower") else "no"
            yield riser(stair, which), "riser cupboard", f"Stair {stair}", RISER_OF[which], 1.5, 2, main
        yield f"Lobby {stair}", "entrance hall", f"Stair {stair}", "G", 8.0, 0, "no"
    yield "Gate pillar", "outside", "Stair A", "G", 52.0, 0, "no"
    yield "Garage lobby", "lobby", "Stair B", "B", 11.0, 0, "no"
    yield "Concierge office", "office", "Stair A", "G", 17.5, 0, "no"


ENTRANCES: Final[tuple[Row, ...]] = (
    ("Gate", "Gate pillar", "all", "yes"),
    ("Entrance A", "Lobby A", "Stair A", "yes"),
    ("Entrance B", "Lobby B", "Stair B", "yes"),
    ("Entrance C", "Lobby C", "Stair C", "yes"),
    ("Garage", "Garage lobby", "all", "no"),
)

STRIKE: Final[Row] = (12, 0.35, 0.7, 0.2, 10.8, "yes", 0.5)
"""Of a strike: volts, amperes, amperes at the first instant and once pulled in, least volts, diode, relock time."""

STORE_STRIKE: Final[Row] = (12, 0.6, 0.8, 0.4, 10.8, "yes", 0.5)
MAGNET: Final[Row] = (24, 0.5, None, None, 21.6, "yes", 1)

DOORS: Final[tuple[Row, ...]] = (
    ("Gate leaf", "Gate", "maglock", "safe", "Gate panel", 1, 7, *MAGNET, "yes", "no", "yes", "yes", "yes"),
    ("Front door A", "Entrance A", "strike", "safe", "Panel A", 1, 5, *STRIKE, "yes", "no", "yes", "yes", "yes"),
    ("Inner door A", "Entrance A", "strike", "safe", "Panel A", 2, 5, *STRIKE, "yes", "yes", "yes", "yes", "yes"),
    ("Front door B", "Entrance B", "strike", "safe", "Panel B", 1, 5, *STRIKE, "yes", "no", "yes", "yes", "yes"),
    ("Front door C", "Entrance C", "strike", "safe", "Panel C", 1, 5, *STRIKE, "yes", "no", "yes", "yes", "yes"),
    ("Cycle store", "Entrance C", "strike", "secure", "Panel C", 2, 5, *STORE_STRIKE, "no", "no", "no", "no", "yes"),
    ("Garage door", "Garage", "strike", "secure", "Garage panel", 1, 8, *STRIKE, None, "yes", "yes", "yes", "yes"),
)

SUPPLIES: Final[tuple[Row, ...]] = (
    ("PSU gate", "Lock supply 24 V, 5 A", "Lobby A", 7, 20, 15, 4, 0.5),
    ("PSU A", "Lock supply 12 V, 5 A", "Lobby A", 7, 20, 15, 4, 0.5),
    ("PSU B", "Lock supply 12 V, 5 A", "Lobby B", 7, 20, 15, 4, 0.5),
    ("PSU C", "Lock supply 12 V, 5 A", "Lobby C", 7, 20, 15, 4, 0.5),
)

JUNCTIONS: Final[tuple[Row, ...]] = (("Box A", "Lobby A"), ("Box B", "Lobby B"))

PRICES: Final[tuple[Row, ...]] = (
    ("vcu-directory", 1240, "each", None),
    ("vcu-keypad", 690, "each", None),
    ("vcu-direct", 415.5, "each", None),
    ("key-module-6", "58,90", "each", None),
    ("uru-video", 164.25, "each", None),
    ("uru-audio", 48.4, "each", None),
    ("smu-desk", 520, "each", None),
    ("switch-8", 245, "each", None),
    ("switch-16", 380, "each", None),
    ("switch-24", 525, "each", None),
    ("supply-12v-5a", 96, "each", None),
    ("supply-24v-5a", 104, "each", None),
    ("battery-7ah", 27.5, "each", None),
    ("junction", 9.8, "each", None),
    ("cat6", "€ 148.00", "drum", 305),
    ("cat6a", 0.92, "m", None),
    ("cat6-screened", 0.78, "m", None),
    ("fibre", 1.15, "m", None),
    ("2x0.75", 0.55, "m", None),
    ("2x1.5", 0.74, "m", None),
    ("2x2.5", 1.08, "m", None),
    ("2x4.0", 1.62, "m", None),
)
"""What things cost, in an invented list."""

SUBNETS: Final[tuple[Row, ...]] = (
    ("Entrances and switches", "192.0.2.0/25", "192.0.2.1", 20, "192.0.2.10", None, "VCU, SMU, switch"),
    ("Flats", "198.51.100.0/24", "198.51.100.1", 21, "198.51.100.20", "198.51.100.100-198.51.100.109", "URU"),
)

TIMETABLES: Final[tuple[Row, ...]] = (
    (
        "Concierge hours",
        "Gate",
        "divert",
        "Mon-Fri 08:00-18:00; Sat 09:00-13:00; bank holidays 10:00-12:00",
        "Concierge desk",
    ),
    ("Trades A", "Entrance A", "trade", "Mon-Fri 07:00-11:00", None),
    ("Trades B", "Entrance B", "trade", "Mon-Fri 07:00-11:00", None),
    ("Trades C", "Entrance C", "trade", "Mon-Fri 07:00-11:00", None),
)

DIVERTS: Final[tuple[Row, ...]] = (
    ("no reply", None, "Entrance B", None, None, "Concierge desk"),
    ("always", 60, None, "Concierge hours", None, "Concierge desk"),  # access by appointment only
    ("always", "Flat 33", None, None, 34, None),  # let furnished: the owner lives next door
)

RIGHTS: Final[tuple[Row, ...]] = (("Cycle store", "Stair C, desk", None),)

HOLIDAYS: Final[tuple[Row, ...]] = (
    ("New Year's Day", "1 January 2027"),
    ("Spring holiday", "25 May 2026"),
    ("Summer holiday", "31.08.2026"),
    ("Christmas Day", "Fri 25 Dec 2026"),
    ("Day after Christmas", "26/12/2026"),
)


def cable_rows() -> Iterator[Row]:
    trunk = (
        ("SW-A1", "SW-A2", "cat6a", HEIGHT_M["5"] - HEIGHT_M["1"] + 5.0),
        ("SW-A1", "SW-B1", "cat6a", ALONG_M["B"] + 8.0),
        ("SW-A1", "SW-C1", "cat6a", ALONG_M["C"] + 8.0),
        ("SW-B1", "SW-B2", "cat6a", HEIGHT_M["5"] - HEIGHT_M["1"] + 5.0),
        ("SW-C1", "SW-C2", "cat6a", HEIGHT_M["5"] - HEIGHT_M["1"] + 5.0),
    )
    panels = (
        ("SW-A1", "Gate panel", "cat6-screened", 62.0),
        ("SW-A1", "Panel A", "cat6", 18.0),
        ("SW-A1", "Concierge desk", "cat6", 27.5),
        ("SW-B1", "Panel B", "cat6", 18.0),
        ("SW-B1", "Garage panel", "cat6", None),  # route through the basement not walked yet
        ("SW-C1", "Panel C", "cat6", 18.0),
    )
    locks = (
        ("PSU gate", "Gate leaf", "2x2.5", 41.0),
        ("Box A", "Front door A", "2x1.5", 8.0),
        ("Box A", "Inner door A", "2x1.5", 3.0),
        ("Box B", "Front door B", "2x1.5", 8.0),
        ("Box B", "Garage door", "2x1.5", 15.0),
        ("PSU C", "Front door C", "2x1.5", 12.0),
        ("PSU C", "Cycle store", "2x0.75", 58.0),
    )
    boxes = (("PSU A", "Box A", "2x2.5", 4.0), ("PSU B", "Box B", "2x2.5", 4.0))
    switch_of = {(stair, which): name for name, _, stair, which in SWITCHES}
    by_number = {flat.number: flat for flat in flats()}
    receivers = [(f"URU {flat.number}", flat, run_m(flat)) for flat in by_number.values()]
    receivers += [(name, by_number[number], run_m(by_number[number]) + 6.0) for name, number, _ in EXTRA_RECEIVERS]
    homes = ((switch_of[flat.stair, flat.riser], name, "cat6", length_m) for name, flat, length_m in receivers)
    not_measured = {"URU 41", "URU 58"}
    in_bundle = Counter(switch_of[flat.stair, flat.riser] for _, flat, _ in receivers)
    for number, (near, far, cable, length_m) in enumerate((*trunk, *panels, *locks, *homes, *boxes), start=1):
        shown: Cell = None if far in not_measured else length_m
        if far in {"URU 17", "URU 52"}:
            shown = f"{length_m:.1f}".replace(".", ",")
        elif far == "URU 30":
            shown = f"{length_m:g} m"
        fuse_a = 2 if near.startswith("PSU") else None
        bundle = in_bundle[near] if far.startswith("URU") else None
        remark = None if far in not_measured or shown is None else "measured"
        yield f"C{number:03d}", near, far, cable, shown, fuse_a, bundle, remark


# the file


class Tables(Book):
    """A workbook whose tables have a title, a remark, merged cells and a blank row."""

    def __init__(self, path: Path) -> None:
        super().__init__(path, "Tallow Yard door entry")
        self._title = self._book.add_format({"bold": True, "font_size": 14})
        self._small = self._book.add_format({"italic": True, "font_color": "#555555"})
        self._middle = self._book.add_format({"valign": "vcenter", "border": 1})

    def plain(self, name: str, rows: Sequence[Row]) -> None:
        """Write a sheet without headings."""
        sheet = self._book.add_worksheet(name)
        sheet.set_column(0, 1, 26)
        for at, row in enumerate(rows):
            self._put(sheet, at, row)

    def table(
        self,
        name: str,
        headings: Sequence[str],
        rows: Sequence[Row],
        *,
        title: str = "",
        remark: str = "",
        merged: Sequence[int] = (),
        blank_behind: int | None = None,
        widths: Sequence[int] = (),
    ) -> None:
        """Write a sheet: a title and a remark above where given, columns ``merged`` where a value repeats."""
        sheet = self._book.add_worksheet(name)
        for column, width in enumerate(widths):
            sheet.set_column(column, column, width)
        top = 0
        if title:
            sheet.write_string(0, 0, title, self._title)
            sheet.write_string(1, 0, remark, self._small)
            top = 3
        self._put(sheet, top, headings, self._head)
        sheet.freeze_panes(top + 1, 0)
        spread: list[Row] = list(rows)
        if blank_behind is not None:
            spread.insert(blank_behind, ())
        for at, row in enumerate(spread, start=top + 1):
            self._put(sheet, at, [None if column in merged else cell for column, cell in enumerate(row)])
        for column in merged:
            self._merge(sheet, top + 1, column, spread, merged)

    def _merge(self, sheet: Worksheet, top: int, column: int, rows: Sequence[Row], merged: Sequence[int]) -> None:
        keys = [tuple(row[other] for other in merged if other <= column) if row else () for row in rows]
        start = 0
        while start < len(rows):
            end = start
            while end + 1 < len(rows) and keys[end + 1] == keys[start]:
                end += 1
            if keys[start]:
                value = rows[start][column]
                if end > start:
                    sheet.merge_range(top + start, column, top + end, column, value, self._middle)
                else:
                    sheet.write(top + start, column, value, self._middle)
            start = end + 1


def write(path: Path) -> None:
    """Write the workbook."""
    boxes = Boxes()
    book = Tables(path)
    book.plain("Site", site_rows())
    floors = [(floor, height_m, "yes" if floor == "B" else "no") for floor, height_m in HEIGHT_M.items()]
    book.table("Floors", ("Floor", "Height (m)", "Cables cross"), floors)
    stairs = [(f"Stair {stair}", along_m, 6.0) for stair, along_m in ALONG_M.items()]
    book.table("Stairs", ("Stair", "X (m)", "Y (m)"), stairs)
    book.table(
        "Flats",
        (
            "Stair", "Floor", "Flat", "Name on key", "Ringing", "Ring time (s)", "Run from riser (m)",
            "Keys handed over", "Remarks",
        ),
        list(flat_rows()),
        title="Tallow Yard: schedule of flats",
        remark="As handed out by the managing agent",
        merged=(0, 1),
        blank_behind=24,
        widths=(10, 8, 10, 30, 18, 10, 12, 12, 30),
    )  # fmt: skip
    book.table(
        "Risers",
        ("Place", "Kind", "Stair", "Floor", "Run from riser (m)", "Room for switches", "Main cupboard"),
        list(place_rows()),
        widths=(22, 16, 10, 8, 12, 12, 12),
    )
    book.table("Entrances", ("Entrance", "Location", "Serves", "Concierge"), ENTRANCES, widths=(16, 18, 16, 12))
    book.table(
        "Door schedule",
        (
            "Door", "Entrance", "Lock type", "Without power", "Released by", "Relay", "Release time (s)", "Voltage",
            "Current", "Inrush current (A)", "Holding current (A)", "Lock minimum (V)", "Diode fitted",
            "Relock time (s)", "Escape route", "Fire door", "Fire release", "Break glass", "Exit button",
        ),
        DOORS,
        title="Doors and locks",
        remark="Escape and fire questions answered by the fire officer of the works; blank = not answered yet",
        widths=(20, 14, 12, 14, 16),
    )  # fmt: skip
    book.table(
        "Panels",
        ("Panel", "Type", "Entrance", "Location", "Serial no.", "MAC address", "Firmware", "Mounting height (mm)"),
        list(panel_rows(boxes)),
        widths=(20, 40, 14, 18, 14, 20, 10, 12),
    )
    book.table(
        "Receivers",
        ("Tag", "Type", "Flat", "Position", "Serial no.", "MAC address", "Firmware", "Mounting height (mm)"),
        list(receiver_rows(boxes)),
        title="Receivers in the flats",
        remark="Serial numbers and MAC addresses as on the boxes, checked off on delivery",
        widths=(20, 26, 10, 8, 14, 20, 10, 12),
    )
    book.table("Switches", ("Switch", "Type", "Location", "Serial no.", "MAC address"), list(switch_rows(boxes)),
               widths=(10, 14, 20, 14, 20))  # fmt: skip
    book.table(
        "Power supplies",
        ("Supply", "Type", "Location", "Battery (Ah)", "Quoted at (h)", "Coldest (°C)", "Standby (h)", "Busy (h)"),
        SUPPLIES,
        widths=(12, 24, 14, 12, 12, 12, 12, 12),
    )
    book.table("Junction boxes", ("Junction box", "Location"), JUNCTIONS, widths=(14, 14))
    book.table(
        "Cable schedule",
        ("Cable no.", "From", "To", "Cable type", "Length (m)", "Fuse (A)", "Cables in bundle", "Remarks"),
        list(cable_rows()),
        title="Cable schedule",
        remark="Lengths along the route, both ends included",
        widths=(10, 14, 22, 16, 12, 10, 10, 16),
    )
    book.table("Subnets", ("Subnet", "Range", "Gateway", "VLAN", "First", "Reserved", "For"), SUBNETS,
               widths=(24, 20, 16, 8, 16, 32, 20))  # fmt: skip
    book.table("Timetables", ("Timetable", "Entrance", "Purpose", "Times", "Divert to"), TIMETABLES,
               widths=(18, 14, 12, 62, 18))  # fmt: skip
    book.table(
        "Diverts",
        ("When", "Flat", "From", "Timetable", "To flat", "To concierge"),
        DIVERTS,
        title="Calls that go elsewhere",
        remark="As agreed with the residents; blank flat = the whole stair",
        widths=(12, 10, 14, 18, 10, 18),
    )
    book.table("Release rights", ("Door", "Who may open", "Timetable"), RIGHTS, widths=(20, 30, 18))
    book.table("Bank holidays", ("Holiday", "Date"), HOLIDAYS, widths=(24, 20))
    book.table(
        "Price list",
        ("Article", "Net price", "Per", "Drum length (m)"),
        PRICES,
        title="Prices",
        remark="Invented; without tax",
        widths=(18, 12, 8, 12),
    )
    book.close()


if __name__ == "__main__":
    run(write, "medium")
