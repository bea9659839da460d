"""Write tall.xlsx: the workbook of an invented tower of 500 flats with a SIP server.

README.md tells what the building is. Run it again and the same bytes come out.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Final

from examples.book import Book, Row, run

FLAT_LEVELS: Final = tuple(range(1, 26))
STOREY_M: Final = 3.15
GROUND_M: Final = 4.8
HEIGHT_M: Final = {
    "B": -3.6,
    "G": 0.0,
    **{str(level): round(GROUND_M + STOREY_M * (level - 1), 2) for level in FLAT_LEVELS},
}
CORES: Final = ("North", "South")
FLATS_PER_CORE: Final = 10
CUPBOARDS: Final[tuple[int, ...]] = (*range(2, 25, 2), 25)
"""The levels with a riser cupboard: each feeds its own flats and those of the level below."""

TREE: Final = {10: (4, 14, 22), 4: (2, 6, 8), 14: (12, 16, 18), 22: (20, 24, 25)}
"""Which cupboards' switches each switch feeds. The switch of level 10 hangs on that of the comms room."""

UPSTAIRS: Final = tuple(f"25{along:02d}" for along in (*range(1, 9), *range(11, 19)))
"""Flats over two floors: each has a second receiver, for sound only, upstairs."""


@dataclass(frozen=True, slots=True)
class Flat:
    """One flat: its label, core and level, and which it is along its landing."""

    label: str
    core: str
    level: int
    along: int

    @property
    def cupboard(self) -> int:
        """The level of the riser cupboard that feeds it."""
        return next(level for level in CUPBOARDS if level >= self.level)


def flats() -> list[Flat]:
    """Return the flats: 101 to 110 in the north core, 111 to 120 in the south core, and so on upwards."""
    return [
        Flat(f"{level}{number * FLATS_PER_CORE + along + 1:02d}", core, level, along)
        for level in FLAT_LEVELS
        for number, core in enumerate(CORES)
        for along in range(FLATS_PER_CORE)
    ]


def along_m(flat: Flat) -> float:
    """Return the way from the riser along the landing to a flat's receiver."""
    return 6.0 + 6.5 * (flat.along % 5) + 5.0


class Boxes:
    """Serial numbers and MAC addresses as they come off the boxes.

    There are more units than addresses for documentation, so the MACs are locally administered ones (IEEE 802, the
    second bit of the first octet): no maker has them.
    """

    def __init__(self) -> None:
        self._count = 0

    def open(self, letter: str) -> tuple[str, str]:
        """Return the serial number and the MAC address of the next box."""
        self._count += 1
        digits = f"{self._count:04X}"
        return f"{letter}{26_400_000 + 29 * self._count:08d}", f"02-00-5E-53-{digits[:2]}-{digits[2:]}"


# the sheets


SITE: Final[tuple[Row, ...]] = (
    ("Name", "Larkfield Tower"),
    ("Reference", "DE-2650"),
    ("Time zone", "Europe/London"),
    ("Standard edition", "IEC 62820-1-1:2016"),
    ("Grade", 1),
    ("Record keeper", "Managing agent"),
    ("Numbering scheme", "as on the door"),
    ("Digits", 4),
    ("Spare ratio", 0.1),
    ("Ambient temperature (°C)", 35),
    ("Ring mode", "together"),
    ("Ring time (s)", 30),
    ("Reserved numbers", "0000, 9000-9999"),
    ("Currency", "EUR"),
    ("Slack (m)", 5),
    ("Longest link (m)", 90),
    ("Waste of cable", 0.1),
    ("Spare parts", 0.04),
    ("Standby practice", "plain"),
    ("Calls a day of a dwelling", 1),
    ("Share for the desk", 0.15),
)

HOLIDAYS: Final[tuple[Row, ...]] = (
    (date(2026, 5, 25), "Spring holiday"),
    (date(2026, 8, 31), "Summer holiday"),
    (date(2026, 12, 25), "Christmas Day"),
    (date(2026, 12, 28), "Holiday in lieu"),
    (date(2027, 1, 1), "New Year's Day"),
)


def flat_rows(boxes: Boxes) -> Iterator[Row]:
    for flat in flats():
        serial, mac = boxes.open("R")
        ringing = "in turn" if flat.label in UPSTAIRS else None
        yield flat.core, flat.level, int(flat.label), "uru-video", serial, mac, "3.2", 1200, ringing, along_m(flat)


def upstairs_rows(boxes: Boxes) -> Iterator[Row]:
    # no position: the row of the flat describes its first receiver, so this is its second
    for label in UPSTAIRS:
        serial, mac = boxes.open("R")
        yield f"URU {label} upstairs", "uru-audio", label, serial, mac, "2.4", 1200


def place_rows() -> Iterator[Row]:
    yield "Comms room", "riser cupboard", "North", "B", 6.0, 4, "yes"
    yield "Garage lobby", "lobby", "South", "B", 14.0, 0, "no"
    yield "Entrance hall", "lobby", "North", "G", 9.0, 0, "no"
    yield "Lobby cupboard", "riser cupboard", "North", "G", 2.0, 2, "no"
    yield "Reception", "office", "North", "G", 7.5, 0, "no"
    yield "Loading bay", "outdoors", "South", "G", 21.0, 0, "no"
    yield "Loading office", "office", "South", "G", 17.5, 0, "no"
    yield "Garden gate pillar", "outdoors", "North", "G", 54.0, 0, "no"
    yield "Cycle store lobby", "lobby", "South", "G", 12.0, 0, "no"
    for core in CORES:
        for level in CUPBOARDS:
            yield cupboard(core, level), "riser cupboard", core, level, 1.0, 2, "no"


def cupboard(core: str, level: int) -> str:
    """Return the name of a riser cupboard."""
    return f"Riser {core[0]}{level:02d}"


def switch(core: str, level: int) -> str:
    """Return the name of the switch in a riser cupboard."""
    return f"SW-{core[0]}{level:02d}"


ENTRANCES: Final[tuple[Row, ...]] = (
    ("Front entrance", "Entrance hall", "all", "yes"),
    ("Garage", "Garage lobby", "all", "yes"),
    ("Loading bay", "Loading bay", "all", "yes"),
    ("Garden gate", "Garden gate pillar", "all", "no"),
    ("Cycle store", "Cycle store lobby", "all", "no"),
)


def panel_rows(boxes: Boxes) -> Iterator[Row]:
    panels = (
        ("Front panel", "vcu-directory", "Front entrance", None, "5.1", 1200, 0),
        ("Garage panel", "vcu-directory", "Garage", None, "5.1", 1200, None),
        ("Loading panel", "vcu-directory", "Loading bay", None, "5.1", 1200, None),
        ("Garden panel", "vcu-directory", "Garden gate", None, "5.1", 1200, None),
        ("Cycle panel", "vcu-directory", "Cycle store", None, "5.1", 1200, None),
        ("Reception desk", "smu-desk", None, "Reception", "3.2", 800, None),
        ("Loading desk", "smu-desk", None, "Loading office", "3.2", 800, None),
    )
    for name, kind, entrance, place, firmware, height_mm, position in panels:
        yield (name, kind, entrance, place, *boxes.open("P"), firmware, height_mm, position)


STRIKE_12V: Final[Row] = (5, 12, 0.35, 0.7, 0.2, 10.8, "yes", 0.5)
MAGNET_24V: Final[Row] = (5, 24, 0.5, None, None, 21.6, "yes", 1)
ON_ESCAPE_ROUTE: Final[Row] = ("yes", "no", "yes", "yes", "yes", 1000)
NOT_ON_ESCAPE_ROUTE: Final[Row] = ("no", "no", "no", "no", "yes", 1000)

DOORS: Final[tuple[Row, ...]] = (
    ("Front door", "Front entrance", "magnet", "fail-safe", "Front panel", 1, *MAGNET_24V, *ON_ESCAPE_ROUTE),
    ("Hall door", "Front entrance", "magnet", "fail-safe", "Front panel", 2, *MAGNET_24V, *ON_ESCAPE_ROUTE),
    ("Garage pass door", "Garage", "strike", "fail-secure", "Garage panel", 1, *STRIKE_12V, *NOT_ON_ESCAPE_ROUTE),
    ("Lift lobby door", "Garage", "strike", "fail-safe", "Garage panel", 2, *STRIKE_12V, *ON_ESCAPE_ROUTE),
    ("Loading door", "Loading bay", "strike", "fail-safe", "Loading panel", 1, *STRIKE_12V, *ON_ESCAPE_ROUTE),
    ("Refuse store", "Loading bay", "strike", "fail-secure", "Loading panel", 2, *STRIKE_12V, *NOT_ON_ESCAPE_ROUTE),
    ("Garden leaf", "Garden gate", "magnet", "fail-safe", "Garden panel", 1, *MAGNET_24V, *ON_ESCAPE_ROUTE),
    ("Cycle store door", "Cycle store", "strike", "fail-secure", "Cycle panel", 1, *STRIKE_12V, *NOT_ON_ESCAPE_ROUTE),
)

SUPPLIES: Final[tuple[Row, ...]] = (
    ("PSU hall", "supply-24v-5a", "Lobby cupboard", 12, 20, 15, 4, 0.5),
    ("PSU garage", "supply-12v-5a", "Comms room", 12, 20, 15, 4, 0.5),
    ("PSU loading", "supply-12v-5a", "Loading office", 12, 20, 15, 4, 0.5),
    ("PSU garden", "supply-24v-5a", "Lobby cupboard", 7, 20, 15, 4, 0.5),
)

JUNCTIONS: Final[tuple[Row, ...]] = (("Box loading", "Loading office"), ("Box hall", "Entrance hall"))

PRICES: Final[tuple[Row, ...]] = (
    ("vcu-directory", 1195, "piece", None),
    ("uru-video", 151.4, "piece", None),
    ("uru-audio", 44.9, "piece", None),
    ("smu-desk", 498, "piece", None),
    ("switch-8", 232, "piece", None),
    ("switch-16", 361.5, "piece", None),
    ("switch-24", 497, "piece", None),
    ("switch-48", 985, "piece", None),
    ("supply-12v-5a", 91.2, "piece", None),
    ("supply-24v-5a", 98.75, "piece", None),
    ("battery-7ah", 26.1, "piece", None),
    ("battery-12ah", 41.6, "piece", None),
    ("junction", 9.3, "piece", None),
    ("cat6", 141, "drum", 305),
    ("cat6a", 0.87, "metre", None),
    ("cat6-screened", 0.74, "metre", None),
    ("fibre", 1.1, "metre", None),
    ("2x1.5", 0.7, "metre", None),
    ("2x2.5", 1.02, "metre", None),
)
"""What things cost, in an invented list."""

SUBNETS: Final[tuple[Row, ...]] = (
    ("Entrances and desks", "10.53.0.0/24", "10.53.0.1", 20, "10.53.0.20", None, "VCU, SMU"),
    ("Switches", "10.53.1.0/24", "10.53.1.1", 21, "10.53.1.20", None, "switch"),
    ("Flats", "10.53.4.0/22", "10.53.4.1", 22, "10.53.4.20", "10.53.5.100-10.53.5.109", "URU"),
)

SERVERS: Final[tuple[Row, ...]] = (("SIP server", "10.53.0.5", 5060, "sip.larkfield.example", 800, 40),)

TIMETABLES: Final[tuple[Row, ...]] = (
    ("Reception hours", "Front entrance", "calls go through", "daily 07:00-22:00; Hol 09:00-17:00", None),
    ("Deliveries", "Loading bay", "calls divert", "Mon-Sat 07:00-19:00", "Loading desk"),
    ("Trades", "Loading bay", "trade release", "Mon-Fri 07:00-11:00", None),
    ("Garden hours", "Garden gate", "calls go through", "daily 06:30-22:30", None),
)

DIVERTS: Final[tuple[Row, ...]] = (
    ("no answer", None, "Front entrance", "Reception hours", None, "Reception desk"),
    ("not registered", None, None, None, None, "Reception desk"),
    ("always", 1207, None, "Reception hours", None, "Reception desk"),
    ("busy", 2501, None, None, 2502, None),
)

RIGHTS: Final[tuple[Row, ...]] = (
    ("Garden leaf", "all", "Garden hours"),
    ("Cycle store door", "North, 111-120, 211-220, 311-320, Reception desk", None),
    ("Refuse store", "desks", None),
)


def switch_rows(boxes: Boxes) -> Iterator[Row]:
    named = [("SW-CORE", "switch-24", "Comms room"), ("SW-LOBBY", "switch-16", "Lobby cupboard")]
    named += [(switch(core, level), "switch-24", cupboard(core, level)) for core in CORES for level in CUPBOARDS]
    for name, kind, place in named:
        yield (name, kind, place, *boxes.open("S"))


def between_m(level: str, other: str, *, level_run_m: float) -> float:
    """Return the length of a cable between two levels: the rise, what it runs on the level, and slack."""
    return round(2 * (abs(HEIGHT_M[level] - HEIGHT_M[other]) + level_run_m + 4.0)) / 2


def cable_rows() -> Iterator[Row]:
    trunk = [("SW-CORE", "SW-LOBBY", "cat6a", between_m("B", "G", level_run_m=14.0))]
    for number, core in enumerate(CORES):
        run_m = 12.0 + 22.0 * number
        trunk.append(("SW-CORE", switch(core, 10), "cat6a", between_m("B", "10", level_run_m=run_m)))
        for near, fed in TREE.items():
            trunk += [
                (switch(core, near), switch(core, far), "cat6a", between_m(str(near), str(far), level_run_m=3.0))
                for far in fed
            ]
    panels = (
        ("SW-LOBBY", "Front panel", "cat6", 21.0),
        ("SW-LOBBY", "Reception desk", "cat6", 16.5),
        ("SW-LOBBY", "Loading panel", "cat6", 48.0),
        ("SW-LOBBY", "Loading desk", "cat6", 44.5),
        ("SW-LOBBY", "Garden panel", "cat6-screened", 63.0),
        ("SW-LOBBY", "Cycle panel", "cat6", 39.0),
        ("SW-CORE", "Garage panel", "cat6", 33.0),
    )
    locks = (
        ("Box hall", "Front door", "2x1.5", 9.0),
        ("Box hall", "Hall door", "2x1.5", 2.5),
        ("PSU garage", "Garage pass door", "2x1.5", 26.0),
        ("PSU garage", "Lift lobby door", "2x1.5", 14.0),
        ("Box loading", "Loading door", "2x1.5", 6.0),
        ("Box loading", "Refuse store", "2x1.5", 14.0),
        ("PSU loading", "Cycle store door", "2x1.5", 24.0),
        ("PSU garden", "Garden leaf", "2x2.5", 58.0),
    )
    homes = [(switch(flat.core, flat.cupboard), f"URU {flat.label}", "cat6", _home_m(flat, 0.0)) for flat in flats()]
    upstairs = [
        (switch(flat.core, flat.cupboard), f"URU {flat.label} upstairs", "cat6", _home_m(flat, 7.5))
        for flat in flats()
        if flat.label in UPSTAIRS
    ]
    boxes = (("PSU hall", "Box hall", "2x2.5", 9.0), ("PSU loading", "Box loading", "2x2.5", 3.0))
    in_bundle = Counter(near for near, *_ in (*homes, *upstairs))
    every = (*trunk, *panels, *locks, *homes, *upstairs, *boxes)
    for order, (feeding, end, cable, length_m) in enumerate(every, start=1):
        fuse_a = 2 if feeding.startswith("PSU") else None
        bundle = in_bundle[feeding] if end.startswith("URU") else None
        yield f"C{order:04d}", feeding, end, cable, length_m, fuse_a, bundle


def _home_m(flat: Flat, more_m: float) -> float:
    """Return the length of a flat's cable: from the cupboard along the landing, five flats to either side."""
    return between_m(str(flat.level), str(flat.cupboard), level_run_m=along_m(flat) + more_m)


# the file


class Tables(Book):
    """A workbook whose tables begin with their headings."""

    def __init__(self, path: Path) -> None:
        super().__init__(path, "Larkfield Tower door entry")

    def table(self, name: str, headings: Sequence[str], rows: Sequence[Row]) -> None:
        """Write a sheet, its columns as wide as what stands in them."""
        sheet = self._book.add_worksheet(name)
        for column, heading in enumerate(headings):
            longest = max((len(str(row[column])) for row in rows if row[column] is not None), default=0)
            sheet.set_column(column, column, min(44, max(9, longest + 2, len(heading.split()[0]) + 2)))
        sheet.freeze_panes(1, 0)
        for at, row in enumerate((headings, *rows)):
            self._put(sheet, at, row, None if at else self._head)


def write(path: Path) -> None:
    """Write the workbook."""
    boxes = Boxes()
    book = Tables(path)
    book.table("Site", ("Setting", "Value"), SITE)
    book.table("Holidays", ("Date", "Name"), HOLIDAYS)
    levels = [(level, height_m, "yes" if level in {"B", "G"} else "no") for level, height_m in HEIGHT_M.items()]
    book.table("Levels", ("Level", "Height (m)", "Crosses"), levels)
    book.table("Cores", ("Core", "X (m)", "Y (m)"), [(core, 24.0 * number, 9.0) for number, core in enumerate(CORES)])
    book.table(
        "Dwellings",
        (
            "Core", "Level", "Dwelling", "Unit type", "Serial", "MAC", "Unit firmware", "Unit height (mm)", "Ring mode",
            "Run (m)",
        ),
        list(flat_rows(boxes)),
    )  # fmt: skip
    book.table("Places", ("Name", "Kind", "Core", "Level", "Run (m)", "Switches at most", "Main"), list(place_rows()))
    book.table("Entrances", ("Name", "Place", "Serves", "Calls desk"), ENTRANCES)
    book.table("Subnets", ("Name", "Range", "Gateway", "VLAN", "First", "Reserved", "For"), SUBNETS)
    book.table("Servers", ("Name", "Address", "Port", "Realm", "Registrations", "Calls at once"), SERVERS)
    book.table(
        "Panels and desks",
        ("Unit", "Type", "Entrance", "Place", "Serial", "MAC", "Firmware", "Height (mm)", "Position"),
        list(panel_rows(boxes)),
    )
    book.table(
        "Receivers upstairs",
        ("Unit", "Type", "Dwelling", "Serial", "MAC", "Firmware", "Height (mm)"),
        list(upstairs_rows(boxes)),
    )
    book.table(
        "Doors",
        (
            "Name", "Entrance", "Lock", "Fail mode", "Freed by", "Output", "Release time (s)", "Lock voltage (V)",
            "Lock current (A)", "Inrush current (A)", "Hold current (A)", "Least voltage (V)", "Suppressed",
            "Relock time (s)", "Escape route", "Fire door", "Fire release", "Emergency release", "Exit button",
            "Exit button height (mm)",
        ),
        DOORS,
    )  # fmt: skip
    book.table("Switches", ("Name", "Type", "Place", "Serial", "MAC"), list(switch_rows(boxes)))
    book.table(
        "Supplies",
        (
            "Name", "Type", "Place", "Battery (Ah)", "Battery rate (h)", "Battery temperature (°C)", "Standby (h)",
            "Busy standby (h)",
        ),
        SUPPLIES,
    )  # fmt: skip
    book.table("Junctions", ("Name", "Place"), JUNCTIONS)
    book.table(
        "Cables",
        ("Name", "Near end", "Far end", "Cable", "Length (m)", "Fuse (A)", "Bundle"),
        list(cable_rows()),
    )
    book.table("Timetables", ("Name", "Entrance", "Purpose", "Windows", "Diverts to"), TIMETABLES)
    book.table("Diverts", ("Cause", "Dwelling", "Entrance", "Timetable", "To dwelling", "To desk"), DIVERTS)
    book.table("Release rights", ("Door", "Who", "Timetable"), RIGHTS)
    book.table("Prices", ("Item", "Price", "Per", "Drum (m)"), PRICES)
    book.close()


if __name__ == "__main__":
    run(write, "tall")
