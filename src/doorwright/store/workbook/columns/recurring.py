"""Columns that several sheets have, and the words that people use for them."""

from typing import Final

from doorwright.model.calling import RingMode, Timetable
from doorwright.model.network import Subnet
from doorwright.model.place import Core, Dwelling, Entrance, Place
from doorwright.model.profile import ProfileKind
from doorwright.store.workbook import values
from doorwright.store.workbook.columns.column import Column, WhenGone
from doorwright.store.workbook.values import choice

ID: Final = Column(
    field="id",
    heading="Id",
    note="Made by Doorwright. Keep it: by it a changed row is known again. Leave it blank in new rows.",
    width=12,
)


SERIAL: Final = Column(
    field="serial",
    heading="Serial",
    form=values.SERIAL,
    note="Serial number as on the unit's label.",
    synonyms=("serial number", "serial no", "s n", "sn", "serialnumber", "ser no", "serial nr"),
)
MAC: Final = Column(
    field="mac",
    heading="MAC",
    form=values.MAC,
    note="MAC address, in any usual way of writing.",
    synonyms=("mac address", "mac addr", "ethernet address", "hardware address", "mac id"),
    width=19,
)
ADDRESS: Final = Column(
    field="address",
    heading="Address",
    form=values.ADDRESS,
    note="IP address, where one was issued already. Otherwise leave it blank and let it be planned.",
    synonyms=("ip", "ip address", "ip addr", "ipv4", "ipv4 address"),
    width=16,
)
SUBNET: Final = Column(
    field="subnet",
    heading="Subnet",
    refers=(Subnet,),
    fills=True,
    note="Name of the subnet that the address comes from.",
    synonyms=("network", "ip range"),
)
PLACE: Final = Column(
    field="place",
    heading="Place",
    refers=(Place,),
    fills=True,
    note="Where it is mounted: a name from the sheet Places.",
    synonyms=("location", "mounted in", "room", "where"),
    example="Lobby",
    width=18,
)
BUILDING_WORDS: Final = ("house", "property", "tower", "building name", "bldg")
CORE_WORDS: Final = (
    "staircase", "stair", "stairs", "block stair", "block", "stairwell", "core name", "lift core", "stair core", "wing",
)  # fmt: skip
LEVEL_WORDS: Final = (
    "floor",
    "storey",
    "story",
    "level name",
    "floor level",
    "flr",
    "lvl",
    "floor no",
    "floor number",
)
DWELLING_WORDS: Final = (
    "flat", "apartment", "home", "door label", "flat no", "flat number", "apartment no", "apartment number", "apt",
    "apt no", "home no", "dwelling no", "dwelling number", "unit no", "unit number", "flats", "dwellings", "homes",
    "apartments", "plot", "plot no", "door no", "door number", "house no",
)  # fmt: skip
NAME_WORDS: Final = ("label", "description", "tag", "designation", "ref", "reference")
TYPE_WORDS: Final = ("unit type", "profile", "model", "device type", "equipment")

RING_MODE: Final = choice(RingMode, "way of ringing", {
    "all": "together", "all at once": "together", "at once": "together", "parallel": "together",
    "simultaneous": "together", "simultaneously": "together", "one by one": "in turn", "turn": "in turn",
    "one after another": "in turn", "one after the other": "in turn", "sequential": "in turn", "sequence": "in turn",
    "in sequence": "in turn", "serial": "in turn",
})  # fmt: skip


def entrance_column(*, required: bool, gone: WhenGone, example: str | None) -> Column:
    """Return the column that names an entrance."""
    return Column(
        field="entrance", heading="Entrance", refers=(Entrance,), fills=True, required=required, when_gone=gone,
        note="Name of the entrance, from the sheet Entrances.", synonyms=("entry", "at entrance", "way in"),
        example=example, width=18,
    )  # fmt: skip


def core_column(*, helper: bool, note: str, example: str | None = None) -> Column:
    """Return the column that names a core."""
    return Column(
        field="core", heading="Core", refers=(Core,), fills=True, helper=helper, note=note, synonyms=CORE_WORDS,
        when_gone=WhenGone.REFUSED, example=example,
    )  # fmt: skip


def dwelling_column(note: str, *, gone: WhenGone, example: str | int | None = None) -> Column:
    """Return the column that names a dwelling."""
    return Column(
        field="dwelling", heading="Dwelling", refers=(Dwelling,), fills=True, note=note, synonyms=DWELLING_WORDS,
        when_gone=gone, example=example,
    )  # fmt: skip


def type_column(kinds: tuple[ProfileKind, ...], example: str) -> Column:
    """Return the column that names a unit type of some kinds."""
    return Column(
        field="profile", heading="Type", profiles=kinds, required=True, fills=True, synonyms=TYPE_WORDS,
        note="Unit type: a key or title from the profile list.", example=example, width=18,
    )  # fmt: skip


def timetable_column(note: str, *, gone: WhenGone = WhenGone.GOES_TOO) -> Column:
    """Return the column that names a timetable."""
    return Column(
        field="timetable", heading="Timetable", refers=(Timetable,), when_gone=gone, note=note, width=18,
        synonyms=("schedule", "hours", "during"),
    )  # fmt: skip


def name_column(note: str, example: str, *synonyms: str, required: bool = True) -> Column:
    """Return the column of a part's own name."""
    return Column(
        field="name", heading="Name", required=required, note=note, synonyms=(*synonyms, *NAME_WORDS),
        example=example, width=22,
    )  # fmt: skip


CALL_NUMBER_WORDS: Final = ("number to call", "dial", "dial number", "extension", "sip user", "call no", "call code")
