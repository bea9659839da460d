"""Tidy workbooks of invented sites, of any size, written with nothing but a spreadsheet library.

A core has 20 levels of 8 dwellings and an entrance with a directory; four cores make a building with a gate. Every
dwelling has one receiver; everything registers with one SIP server. Switches feed 36 units each at most, so that a
fifth of their ports and power stays spare, and form a tree.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final, TypeAlias

import xlsxwriter

Row: TypeAlias = Sequence[str | int | float]

LEVELS_COUNT: Final = 20
DWELLINGS_A_LEVEL: Final = 8
CORES_A_BUILDING: Final = 4
UNITS_A_SWITCH: Final = 36
STOREY_M: Final = 3.0
DWELLINGS_A_CORE: Final = LEVELS_COUNT * DWELLINGS_A_LEVEL
CALLS_A_DWELLING: Final = 0.15
"""Visitors a day; with more the one call unit of a gate is taken too often, and a tidy site has no findings."""


@dataclass(frozen=True, slots=True)
class Home:
    """A dwelling: which core counted from 0, level counted from 1, which on its level counted from 1."""

    core: int
    level: int
    along: int

    @property
    def label(self) -> str:
        """What stands on its door."""
        return f"{self.core + 1}{self.level:02d}{self.along}"


def building_name(building: int) -> str:
    """Return the name of a building, counted from 0."""
    return f"House {building + 1}"


def core_name(core: int) -> str:
    """Return the name of a core, counted from 0 through all buildings."""
    return f"{core // CORES_A_BUILDING + 1}{'ABCD'[core % CORES_A_BUILDING]}"


class Plot:
    """A site of a number of dwellings, as rows of sheets."""

    def __init__(self, dwellings_count: int) -> None:
        places = (divmod(number, DWELLINGS_A_CORE) for number in range(dwellings_count))
        self.homes = [Home(core, at // DWELLINGS_A_LEVEL + 1, at % DWELLINGS_A_LEVEL + 1) for core, at in places]
        self.cores_count = self.homes[-1].core + 1
        self.buildings_count = (self.cores_count - 1) // CORES_A_BUILDING + 1
        self._boxes = 0

    def sheets(self) -> Iterator[tuple[str, list[Row]]]:
        """Yield each sheet: its name, and its rows with the headings first."""
        houses = range(self.buildings_count)
        cores = range(self.cores_count)
        yield "Site", [
            ("Name", f"{len(self.homes)} dwellings"), ("Time zone", "Etc/UTC"), ("Record keeper", "Owner"),
            ("Standard edition", "IEC 62820-1-1:2016"), ("Grade", 1),
            ("Calls a day of a dwelling", CALLS_A_DWELLING),
        ]  # fmt: skip
        yield "Buildings", [("Name",), *((building_name(house),) for house in houses)]
        house_of = [building_name(core // CORES_A_BUILDING) for core in cores]
        yield "Cores", [("Building", "Name"), *((house_of[core], core_name(core)) for core in cores)]
        levels = [(level, STOREY_M * level) for level in range(1, LEVELS_COUNT + 1)]
        level_rows = ((building_name(house), str(level), height_m) for house in houses for level, height_m in levels)
        yield "Levels", [("Building", "Name", "Height (m)"), *level_rows]
        homes = ((home.label, house_of[home.core], core_name(home.core), str(home.level)) for home in self.homes)
        yield "Dwellings", [("Dwelling", "Building", "Core", "Level"), *homes]
        gates = [(f"Gate {house + 1}", building_name(house)) for house in houses]
        entrances = [(f"Entrance {core_name(core)}", core_name(core)) for core in cores]
        yield "Entrances", [("Name", "Serves"), *gates, *entrances]
        vcus = [(f"VCU {name.lower()}", name) for name, _ in (*gates, *entrances)]
        yield (
            "Units",
            [
                ("Name", "Type", "Entrance", "Dwelling", "Serial", "MAC", "Firmware", "Height (mm)"),
                *((name, "vcu-directory", entrance, "", *self._box(), "5.1", 1200) for name, entrance in vcus),
                *((f"URU {home.label}", "uru-video", "", home.label, *self._box(), "3.2", 1200) for home in self.homes),
            ],
        )
        switches, cables = self._network()
        yield "Switches", [("Name", "Type", "Serial", "MAC"), *switches]
        yield "Cables", [("Name", "Near end", "Far end", "Cable", "Length (m)"), *cables]
        yield (
            "Subnets",
            [
                ("Name", "Range", "Gateway", "For"),
                ("Dwellings", "10.0.0.0/16", "10.0.0.1", "URU"),
                ("Entrances", "10.1.0.0/20", "10.1.0.1", "VCU, SMU, switch"),
            ],
        )
        yield (
            "Servers",
            [
                ("Name", "Address", "Realm", "Registrations", "Calls at once"),
                ("Server", "10.1.15.1", "example.org", 2 * len(self.homes) + 10, len(self.homes) + 10),
            ],
        )

    def _box(self) -> tuple[str, str]:
        """Return a serial number and a MAC address of its own (locally administered: no maker's)."""
        self._boxes += 1
        digits = f"{self._boxes:06X}"
        return f"X{self._boxes:08d}", f"02-00-00-{digits[:2]}-{digits[2:4]}-{digits[4:]}"

    def _network(self) -> tuple[list[Row], list[Row]]:
        fed: list[list[tuple[str, float]]] = [[] for _ in range(self.cores_count)]
        for house in range(self.buildings_count):
            fed[house * CORES_A_BUILDING].append((f"VCU gate {house + 1}", 60.0))
        for core in range(self.cores_count):
            fed[core].append((f"VCU entrance {core_name(core).lower()}", 12.0))
        for home in self.homes:
            fed[home.core].append((f"URU {home.label}", 10.0 + 4.0 * home.along))
        switches: list[Row] = []
        cables: list[Row] = []
        for core, units in enumerate(fed):
            feeder = f"S {core_name((core - 1) // 2)}.1" if core else ""
            for at in range(0, len(units), UNITS_A_SWITCH):
                switch = f"S {core_name(core)}.{at // UNITS_A_SWITCH + 1}"
                switches.append((switch, "switch-48", *self._box()))
                if feeder:
                    cables.append((f"{feeder} to {switch}", feeder, switch, "cat6a", 40.0))
                feeder = switch
                cables += [
                    (f"{switch} to {name}", switch, name, "cat6", length_m)
                    for name, length_m in units[at : at + UNITS_A_SWITCH]
                ]
        return switches, cables


def write_workbook(path: Path, dwellings_count: int) -> None:
    """Write the workbook of a site of ``dwellings_count`` dwellings."""
    book = xlsxwriter.Workbook(str(path), {"constant_memory": True})
    for name, rows in Plot(dwellings_count).sheets():
        sheet = book.add_worksheet(name)
        for number, row in enumerate(rows):
            for column, cell in enumerate(row):
                if isinstance(cell, str):
                    sheet.write_string(number, column, cell)
                else:
                    sheet.write_number(number, column, cell)
    book.close()
