"""The sheets and columns of a workbook: one table that the reader, the template, the export and the reference share.

What people list together with dwellings (type, serial, MAC address, firmware and height of the first receiver) stands
there as helper columns, which no export writes.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from doorwright.model.calling import Divert, DivertCause, RingMode, Timetable, TimetablePurpose
from doorwright.model.door import Door, FailMode, LockKind, ReleaseRight
from doorwright.model.network import CableRun, SipServer, Subnet, Switch
from doorwright.model.part import Part
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level, Place, PlaceKind
from doorwright.model.power import Supply
from doorwright.model.profile import ProfileKind
from doorwright.model.site import KeyOrder, NumberPrefix, NumberScheme
from doorwright.model.unit import Key, KeyModule, SecretMark, SecretUse, Unit
from doorwright.store.workbook import values
from doorwright.store.workbook.dates import DATES
from doorwright.store.workbook.values import Form, choice, length, number, whole


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
    """One line of the sheet "Site". ``field`` is the site's, or after ``choices.`` its choices'."""

    field: str
    heading: str
    note: str
    form: Form = values.TEXT
    synonyms: tuple[str, ...] = ()
    example: str | int | float | None = None


ID: Final = Column(
    field="id",
    heading="Id",
    note="Made by Doorwright. Keep it: by it a changed row is known again. Leave it blank in new rows.",
    width=12,
)

ENDS: Final = (Unit, Switch, Door, Supply)
OWNERS: Final = (Unit, Switch, SipServer)

_SERIAL: Final = Column(
    field="serial",
    heading="Serial",
    form=values.SERIAL,
    note="Serial number as on the unit's label.",
    synonyms=("serial number", "serial no", "s n", "sn", "serialnumber", "ser no", "serial nr"),
)
_MAC: Final = Column(
    field="mac",
    heading="MAC",
    form=values.MAC,
    note="MAC address, in any usual way of writing.",
    synonyms=("mac address", "mac addr", "ethernet address", "hardware address", "mac id"),
    width=19,
)
_ADDRESS: Final = Column(
    field="address",
    heading="Address",
    form=values.ADDRESS,
    note="IP address, where one was issued already. Otherwise leave it blank and let it be planned.",
    synonyms=("ip", "ip address", "ip addr", "ipv4", "ipv4 address"),
    width=16,
)
_SUBNET: Final = Column(
    field="subnet",
    heading="Subnet",
    refers=(Subnet,),
    fills=True,
    note="Name of the subnet that the address comes from.",
    synonyms=("network", "ip range"),
)
_PLACE: Final = Column(
    field="place",
    heading="Place",
    refers=(Place,),
    fills=True,
    note="Where it is mounted: a name from the sheet Places.",
    synonyms=("location", "mounted in", "room", "where"),
    example="Lobby",
    width=18,
)
_BUILDING_WORDS: Final = ("house", "property", "tower", "building name", "bldg")
_CORE_WORDS: Final = (
    "staircase", "stair", "stairs", "block stair", "block", "stairwell", "core name", "lift core", "stair core", "wing",
)  # fmt: skip
_LEVEL_WORDS: Final = (
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
_DWELLING_WORDS: Final = (
    "flat", "apartment", "home", "door label", "flat no", "flat number", "apartment no", "apartment number", "apt",
    "apt no", "home no", "dwelling no", "dwelling number", "unit no", "unit number", "flats", "dwellings", "homes",
    "apartments", "plot", "plot no", "door no", "door number", "house no",
)  # fmt: skip
_NAME_WORDS: Final = ("label", "description", "tag", "designation", "ref", "reference")
_TYPE_WORDS: Final = ("unit type", "profile", "model", "device type", "equipment")

_RING_MODE: Final = choice(RingMode, "way of ringing", {
    "all": "together", "all at once": "together", "at once": "together", "parallel": "together",
    "simultaneous": "together", "simultaneously": "together", "one by one": "in turn", "turn": "in turn",
    "one after another": "in turn", "one after the other": "in turn", "sequential": "in turn", "sequence": "in turn",
    "in sequence": "in turn", "serial": "in turn",
})  # fmt: skip

SITE_SYNONYMS: Final = ("project", "premises", "site details", "general", "settings")
SITE_NOTE: Final = "The site as a whole, one setting a line."
SETTINGS: Final = (
    Setting(
        field="name", heading="Name", note="What the premises are called.", example="North House",
        synonyms=("site", "site name", "project", "project name"),
    ),
    Setting(
        field="reference", heading="Reference", note="Your own number or code for the job.", example="EX-001",
        synonyms=("job", "job number", "job no", "project number", "project no", "ref"),
    ),
    Setting(
        field="time_zone", heading="Time zone", form=values.TIME_ZONE, example="Etc/UTC",
        note="Time zone of the clocks, such as Europe/Paris.", synonyms=("timezone", "tz"),
    ),
    Setting(
        field="standard_edition", heading="Standard edition", example="IEC 62820-1-1:2016",
        note="Edition of the standard that the owner asked for.", synonyms=("standard", "edition"),
    ),
    Setting(
        field="grade", heading="Grade", form=whole(least=1), example=1,
        note="Grade under IEC 62820-1-1 that the owner asked for: 1 or 2.", synonyms=("security grade",),
    ),
    Setting(
        field="record_keeper", heading="Record keeper", note="Who keeps the records after handover.",
        example="Managing agent", synonyms=("records kept by",),
    ),
    Setting(
        field="choices.number_scheme", heading="Numbering scheme", form=choice(NumberScheme, "numbering scheme"),
        note="How call numbers are made for dwellings that have none.", example=NumberScheme.DOOR.value,
        synonyms=("number scheme", "numbering"),
    ),
    Setting(
        field="choices.number_prefix", heading="Number prefix", example=NumberPrefix.AS_NEEDED.value,
        form=choice(NumberPrefix, "prefix of numbers", {
            "as required": "as needed", "where needed": "as needed", "no": "none", "no prefix": "none",
            "house": "building", "block": "core", "stair": "core", "staircase": "core",
        }),
        note="What stands in front of the numbers that are made, where there are several buildings or cores. None: "
        "numbers may come again where no entrance, desk or server is shared.",
        synonyms=("prefix", "numbering prefix", "prefix of numbers"),
    ),
    Setting(
        field="choices.number_digits_count", heading="Digits", form=whole(least=1),
        note="How many digits a call number has; blank leaves it to the planner.", example=3,
        synonyms=("number of digits", "call number digits"),
    ),
    Setting(
        field="choices.key_order", heading="Key order", form=choice(KeyOrder, "order of keys"),
        note="In which order keys are given out.", example=KeyOrder.TOP_DOWN.value, synonyms=("order of keys",),
    ),
    Setting(
        field="choices.spare_ratio", heading="Spare ratio", form=values.RATIO,
        note="Share of ports and power kept spare, such as 0.2 or 20 %.", example=0.2, synonyms=("spare", "spares"),
    ),
    Setting(
        field="choices.ambient_c", heading="Ambient temperature (°C)", form=number("°C", least=None),
        note="Warmest surroundings expected, in degrees Celsius.", example=30,
        synonyms=("ambient temperature", "ambient", "ambient temperature c"),
    ),
    Setting(
        field="choices.ring_mode", heading="Ring mode", form=_RING_MODE, example=RingMode.TOGETHER.value,
        note="How the receivers of a dwelling ring, unless its row says otherwise.",
        synonyms=("ringing", "ring order"),
    ),
    Setting(
        field="choices.ring_s", heading="Ring time (s)", form=whole("s", least=1), example=30,
        note="How long they ring, in seconds: all of them together, or each of them in turn.",
        synonyms=("ring time", "ring s", "ringing time", "ring for"),
    ),
    Setting(
        field="choices.reserved_numbers", heading="Reserved numbers", form=values.NUMBERS, example="0, 9, 112, 900-999",
        note="Call numbers and ranges a-b that must not be given to a dwelling, separated by commas.",
        synonyms=("reserved call numbers", "numbers kept free", "numbers not to be used"),
    ),
    Setting(
        field="holidays", heading="Holidays", form=DATES,
        note="Dates such as 2026-12-25, separated by commas; or a sheet Holidays with a date and its name a row.",
        synonyms=("bank holidays", "public holidays"),
    ),
)  # fmt: skip


def _entrance(*, required: bool, gone: WhenGone, example: str | None) -> Column:
    return Column(
        field="entrance", heading="Entrance", refers=(Entrance,), fills=True, required=required, when_gone=gone,
        note="Name of the entrance, from the sheet Entrances.", synonyms=("entry", "at entrance", "way in"),
        example=example, width=18,
    )  # fmt: skip


def _core(*, helper: bool, note: str, example: str | None = None) -> Column:
    return Column(
        field="core", heading="Core", refers=(Core,), fills=True, helper=helper, note=note, synonyms=_CORE_WORDS,
        when_gone=WhenGone.REFUSED, example=example,
    )  # fmt: skip


def _dwelling(note: str, *, gone: WhenGone, example: str | int | None = None) -> Column:
    return Column(
        field="dwelling", heading="Dwelling", refers=(Dwelling,), fills=True, note=note, synonyms=_DWELLING_WORDS,
        when_gone=gone, example=example,
    )  # fmt: skip


def _type(kinds: tuple[ProfileKind, ...], example: str) -> Column:
    return Column(
        field="profile", heading="Type", profiles=kinds, required=True, fills=True, synonyms=_TYPE_WORDS,
        note="Unit type: a key or title from the profile list.", example=example, width=18,
    )  # fmt: skip


def _timetable(note: str, *, gone: WhenGone = WhenGone.GOES_TOO) -> Column:
    return Column(
        field="timetable", heading="Timetable", refers=(Timetable,), when_gone=gone, note=note, width=18,
        synonyms=("schedule", "hours", "during"),
    )  # fmt: skip


def _name(note: str, example: str, *synonyms: str, required: bool = True) -> Column:
    return Column(
        field="name", heading="Name", required=required, note=note, synonyms=(*synonyms, *_NAME_WORDS),
        example=example, width=22,
    )  # fmt: skip


_SERVED: Final = (
    ("serves_buildings", Building), ("serves_cores", Core), ("serves_dwellings", Dwelling),
)  # fmt: skip
_MAY: Final = (("buildings", Building), ("cores", Core), ("dwellings", Dwelling), ("desks", Unit))
_CALL_NUMBER_WORDS: Final = ("number to call", "dial", "dial number", "extension", "sip user", "call no", "call code")
_UNIT_KINDS: Final = (ProfileKind.VCU, ProfileKind.URU, ProfileKind.SMU)

SHEETS: Final[tuple[Sheet, ...]] = (
    Sheet(
        name="Buildings", kind=Building, note="The buildings on the premises. May be left out where there is one.",
        synonyms=("building", "houses", "towers", "blocks list"), matches=(("name",),),
        columns=(
            _name("What the building is called.", "North House", "building", *_BUILDING_WORDS, required=False),
            ID,
        ),
    ),
    Sheet(
        name="Cores", kind=Core, note="Stair-and-lift cores. May be left out: the dwellings name them too.",
        synonyms=("core", "staircases", "stairs", "stair cores"), matches=(("building", "name"), ("name",)),
        columns=(
            Column(
                field="building", heading="Building", refers=(Building,), fills=True, synonyms=_BUILDING_WORDS,
                when_gone=WhenGone.REFUSED, note="Its building; may be blank where there is one.",
                example="North House",
            ),
            _name("What the core is called.", "A", "core", *_CORE_WORDS, required=False),
            ID,
        ),
    ),
    Sheet(
        name="Levels", kind=Level, note="The storeys of each building. May be left out: the dwellings name them too.",
        synonyms=("level", "floors", "storeys", "stories"), matches=(("building", "name"), ("name",)),
        columns=(
            Column(
                field="building", heading="Building", refers=(Building,), fills=True, synonyms=_BUILDING_WORDS,
                when_gone=WhenGone.REFUSED, note="Its building; may be blank where there is one.",
                example="North House",
            ),
            _name("What the level is called.", "Ground", "level", *_LEVEL_WORDS, required=False),
            Column(
                field="order", heading="Order", form=values.SIGNED, example=0,
                note="Counts upwards: 0 at the ground, -1 below it. Guessed from the name where blank.",
                synonyms=("sequence", "index", "storey number"),
            ),
            Column(
                field="height_m", heading="Height (m)", form=length("m", least=None), example=0,
                note="Height of its floor above the ground floor, in metres. Feet are converted.",
                synonyms=("height", "height m", "height ft", "elevation"),
            ),
            ID,
        ),
    ),
    Sheet(
        name="Dwellings", kind=Dwelling, note="The homes and offices that visitors call.",
        synonyms=("flats", "homes", "apartments", "dwelling", "units and flats", "residences", "schedule of flats",
                  "schedule of dwellings", "apartment list", "flat list", "accommodation", "accommodation schedule"),
        matches=(("core", "door_label"), ("door_label",)),
        columns=(
            Column(
                field="door_label", heading="Dwelling", required=True, synonyms=("number", *_DWELLING_WORDS), example=1,
                note="What a visitor reads on the door. A range such as 1-24 or G01-G08 stands for one row each.",
            ),
            Column(
                field="building", heading="Building", refers=(Building,), fills=True, helper=True,
                synonyms=_BUILDING_WORDS, note="Its building; may be blank where there is one.", example="North House",
            ),
            _core(helper=False, example="A", note="Its stair-and-lift core; may be left out where there is one."),
            Column(
                field="level", heading="Level", refers=(Level,), fills=True, required=True, synonyms=_LEVEL_WORDS,
                when_gone=WhenGone.REFUSED, note="Its storey.", example="Ground",
            ),
            Column(
                field="call_number", heading="Call number", synonyms=_CALL_NUMBER_WORDS, example="001",
                note="The digits that reach it, where they are given already. Otherwise leave them to the planner.",
            ),
            Column(
                field="legend", heading="Legend", synonyms=("key legend", "key label", "name on key", "nameplate"),
                note="What stands beside its key, where that is not the door label.", width=20, example="Flat 1",
            ),
            Column(
                field="ring_mode", heading="Ring mode", form=_RING_MODE, example=RingMode.TOGETHER.value,
                note="How its receivers ring, where that is not as the site's.",
                synonyms=("ringing", "ring", "ring order", "rings"),
            ),
            Column(
                field="ring_s", heading="Ring time (s)", form=whole("s", least=1), example=45,
                note="How long they ring, in seconds: all of them together, or each of them in turn. Blank: as the "
                "site's.",
                synonyms=("ring time", "ring s", "ring for", "ringing time", "seconds"),
            ),
            Column(
                field="unit_profile", heading="Unit type", profiles=(ProfileKind.URU,), helper=True, fills=True,
                synonyms=("uru type", "receiver type", "uru", "receiver unit type", "unit model"), width=18,
                note="Type of its first user receiver unit. Further units stand in the sheet Units.",
                example="profile:URU",
            ),
            Column(
                field="unit_serial", heading="Serial", form=values.SERIAL, helper=True, synonyms=_SERIAL.synonyms,
                note="Serial number of its first user receiver unit.", example="X00000001",
            ),
            Column(
                field="unit_mac", heading="MAC", form=values.MAC, helper=True, synonyms=_MAC.synonyms, width=19,
                note="MAC address of its first user receiver unit.", example="00-00-5E-00-53-01",
            ),
            Column(
                field="unit_firmware", heading="Unit firmware", helper=True, example="3.2", width=12,
                note="Firmware version that its first user receiver unit runs.",
                synonyms=("firmware", "firmware version", "fw", "receiver firmware"),
            ),
            Column(
                field="unit_height_mm", heading="Unit height (mm)", form=length("mm", is_whole=True), helper=True,
                note="Height of that unit's highest control above the finished floor, in millimetres.", example=1200,
                synonyms=("unit height", "unit height mm", "mounting height", "mounting height mm", "receiver height",
                          "height of receiver", "fixing height"),
            ),
            ID,
        ),
    ),
    Sheet(
        name="Places", kind=Place, note="Where units, switches and supplies are mounted.",
        synonyms=("place", "locations", "rooms", "risers", "riser cupboards"),
        matches=(("building", "core", "level", "name"), ("core", "name"), ("name",)),
        columns=(
            _name("What the place is called.", "Lobby", "place", "location", "room"),
            Column(
                field="kind", heading="Kind", required=True, example=PlaceKind.LOBBY.value, synonyms=("type", "use"),
                form=choice(PlaceKind, "kind of place", {
                    "hall": "lobby", "foyer": "lobby", "entrance hall": "lobby", "reception": "lobby",
                    "corridor": "landing", "riser": "riser cupboard", "cupboard": "riser cupboard",
                    "plant room": "riser cupboard", "outside": "outdoors", "outdoor": "outdoors", "street": "outdoors",
                    "concierge": "office",
                }),
                note="What it is used for.", width=16,
            ),
            Column(
                field="building", heading="Building", refers=(Building,), fills=True, synonyms=_BUILDING_WORDS,
                when_gone=WhenGone.REFUSED, note="Its building, where it lies in one.", example="North House",
            ),
            _core(helper=False, example="A", note="Its core, where it lies in one."),
            Column(
                field="level", heading="Level", refers=(Level,), fills=True, synonyms=_LEVEL_WORDS,
                when_gone=WhenGone.REFUSED, note="Its storey, where it lies on one.", example="Ground",
            ),
            ID,
        ),
    ),
    Sheet(
        name="Entrances", kind=Entrance, note="The ways in, and the dwellings that each one serves.",
        synonyms=("entrance", "ways in", "entries"), matches=(("name",),),
        columns=(
            _name("What the entrance is called.", "Main entrance", "entrance", "entry"),
            _PLACE,
            Column(
                field="serves", heading="Serves", form=values.LIST_TEXT, width=40, example="all", lists=_SERVED,
                note="Whom it serves: all, or buildings, cores and dwellings, separated by commas. Ranges such as 1-24 "
                "work; a label that several cores have is written core/label.",
                synonyms=("serves dwellings", "dwellings served", "dwellings", "flats", "flats served", "homes served"),
            ),
            Column(
                field="calls_desk", heading="Calls desk", form=values.YES_NO, example="no",
                note="Yes where a visitor can call a concierge from here.",
                synonyms=("desk", "concierge", "calls concierge", "concierge key"),
            ),
            ID,
        ),
    ),
    Sheet(
        name="Subnets", kind=Subnet, note="The ranges of addresses given to the system.",
        synonyms=("subnet", "networks", "ip ranges", "vlans"), matches=(("name",), ("cidr",)),
        columns=(
            _name("What the subnet is called.", "Door entry", "subnet", "network"),
            Column(
                field="cidr", heading="Range", form=values.CIDR, required=True, example="192.0.2.0/24", width=20,
                note="Network and prefix length (RFC 4632).",
                synonyms=("cidr", "prefix", "ip range", "network address"),
            ),
            Column(
                field="gateway", heading="Gateway", form=values.ADDRESS, example="192.0.2.1", width=16,
                note="Address of its router, where there is one.", synonyms=("router", "default gateway"),
            ),
            Column(
                field="vlan", heading="VLAN", form=values.WHOLE, example=20, note="Its VLAN number.",
                synonyms=("vlan id", "vlan number"),
            ),
            Column(
                field="first", heading="First", form=values.ADDRESS, width=16, example="192.0.2.10",
                note="First address that may be issued, where the owner keeps those before it.",
                synonyms=("first address", "from", "start"),
            ),
            Column(
                field="last", heading="Last", form=values.ADDRESS, width=16, example="192.0.2.199",
                note="Last address that may be issued, where the owner keeps those behind it.",
                synonyms=("last address", "to", "end"),
            ),
            Column(
                field="reserved", heading="Reserved", form=values.ADDRESSES, width=34, example="192.0.2.50-192.0.2.59",
                note="Addresses or ranges a-b that must not be issued, separated by commas.",
                synonyms=("reserved addresses", "not to be issued", "excluded"),
            ),
            Column(
                field="kinds", heading="For", form=values.UNIT_KINDS, example="VCU, URU, SMU, switch", width=22,
                note="What it is for: VCU, URU, SMU, switch. Blank means everything.", synonyms=("kinds", "used for"),
            ),
            ID,
        ),
    ),
    Sheet(
        name="Servers", kind=SipServer, note="SIP servers that are not units.",
        synonyms=("server", "sip servers", "registrars"), matches=(("name",),),
        columns=(
            _name("What the server is called.", "SIP server", "server"),
            Column(
                field="address", heading="Address", form=values.ADDRESS, synonyms=_ADDRESS.synonyms, width=16,
                note="Its IP address.", example="192.0.2.2",
            ),
            Column(
                field="port", heading="Port", form=values.FROM_ONE, example=5060, note="Its SIP port, usually 5060.",
                synonyms=("sip port",),
            ),
            Column(field="realm", heading="Realm", note="Its digest realm.", example="example.org", width=20),
            Column(
                field="registrations_max", heading="Registrations", form=values.WHOLE, example=250,
                note="How many registrations it is licensed or sized for.",
                synonyms=("registrations max", "maximum registrations", "licences", "capacity"), width=16,
            ),
            Column(
                field="serves", heading="Serves", form=values.LIST_TEXT, width=24,
                lists=(("serves_buildings", Building),),
                note="The buildings whose units register with it, separated by commas. Blank: all of them.",
                synonyms=("buildings", "serves buildings", "buildings served"),
            ),
            ID,
        ),
    ),
    Sheet(
        name="Units", kind=Unit, note="Visitor call units, user receiver units and security management units.",
        synonyms=("unit", "devices", "stations", "vcus", "urus", "smus", "door panels", "panels", "entrance panels",
                  "receivers", "user receiver units", "visitor call units", "equipment", "equipment list"),
        matches=(("name",), ("serial",), ("mac",)),
        columns=(
            _name("What the unit is called; no two alike.", "Entrance panel", "unit", "unit name", "device", "panel"),
            Column(
                field="profile", heading="Type", profiles=_UNIT_KINDS, required=True, fills=True, width=18,
                synonyms=_TYPE_WORDS, note="Unit type: a key or title from the profile list.", example="profile:VCU",
            ),
            _entrance(required=False, gone=WhenGone.REFUSED, example="Main entrance"),
            _dwelling("A URU's dwelling; core/label where several cores have the label.", gone=WhenGone.GOES_TOO),
            _core(helper=True, note="Core of the dwelling, where several cores have its label."),
            _PLACE,
            _SERIAL,
            _MAC,
            Column(
                field="firmware", heading="Firmware", note="Firmware version it runs.", example="3.2",
                synonyms=("firmware version", "fw", "version", "software"),
            ),
            _SUBNET,
            _ADDRESS,
            Column(
                field="call_number", heading="Call number", synonyms=_CALL_NUMBER_WORDS,
                note="For units called by a number of their own (an SMU). A URU answers its dwelling's.",
            ),
            Column(
                field="position", heading="Position", form=values.POSITION, example=0,
                note="0 for the primary of its group, 1, 2, ... for its secondaries.", synonyms=("pos", "order"),
            ),
            Column(
                field="registrar", heading="Registers with", refers=(Unit, SipServer), width=18,
                note="Name of the unit or SIP server that it registers with.",
                synonyms=("registrar", "registered with", "master", "server"),
            ),
            Column(
                field="height_mm", heading="Height (mm)", form=length("mm", is_whole=True), example=1200,
                note="Height of its highest control above the finished floor, in millimetres.",
                synonyms=("height", "height mm", "mounting height", "height m", "height cm"),
            ),
            ID,
        ),
    ),
    Sheet(
        name="Doors", kind=Door, note="The leaves with a lock in them. Questions nobody has answered yet stay blank.",
        synonyms=("door", "locks", "door schedule"), matches=(("entrance", "name"), ("name",)),
        columns=(
            _name("What the door is called.", "Front door", "door", "door name"),
            _entrance(required=True, gone=WhenGone.REFUSED, example="Main entrance"),
            Column(
                field="lock", heading="Lock", synonyms=("lock kind", "lock type", "kind of lock"), example="strike",
                form=choice(LockKind, "kind of lock", {
                    "electric strike": "strike", "release": "strike", "maglock": "magnet", "magnetic lock": "magnet",
                    "mag lock": "magnet", "electromagnet": "magnet", "magnetic": "magnet", "motor lock": "motor",
                    "motorised": "motor", "motorised lock": "motor", "motorized": "motor",
                }),
                note="How the leaf is held.",
            ),
            Column(
                field="fail_mode", heading="Fail mode", synonyms=("without power", "fail", "fail safe or secure"),
                form=choice(FailMode, "fail mode", {"safe": "fail-safe", "secure": "fail-secure"}),
                note="What the lock does without power: fail-safe frees the door, fail-secure keeps it locked.",
                example="fail-secure",
            ),
            Column(
                field="freed_by", heading="Freed by", refers=(Unit,), width=18, example="Entrance panel",
                note="Name of the unit whose output frees it.", synonyms=("released by", "opened by", "freeing unit"),
            ),
            Column(
                field="output", heading="Output", form=values.FROM_ONE, example=1, synonyms=("relay", "output no"),
                note="Number of that output, counted from 1.",
            ),
            Column(
                field="release_s", heading="Release time (s)", form=number("s"), example=5,
                note="How long it stays free, in seconds.", synonyms=("release time", "release s", "open time"),
            ),
            Column(
                field="lock_rated_v", heading="Lock voltage (V)", form=number("V"), example=12,
                note="Rated voltage of the lock, in volts.", synonyms=("lock voltage", "rated voltage", "voltage"),
            ),
            Column(
                field="lock_operate_a", heading="Lock current (A)", form=number("A"), example=0.4,
                note="Steady current while the lock is energised, in amperes.",
                synonyms=("lock current", "current", "operating current"),
            ),
            Column(
                field="lock_minimum_v", heading="Least voltage (V)", form=number("V"), example=10.8,
                note="Least voltage at the lock at which its maker promises operation, in volts.",
                synonyms=("least voltage", "minimum voltage", "lock minimum v"),
            ),
            Column(
                field="escape_route", heading="Escape route", form=values.YES_NO, example="yes",
                note="Whether it lies on an escape route. The fire strategy says so; a competent person confirms it.",
                synonyms=("on escape route", "escape", "means of escape"),
            ),
            Column(
                field="fire_door", heading="Fire door", form=values.YES_NO, example="no",
                note="Whether it is a fire door.", synonyms=("fire rated", "fire resisting"),
            ),
            Column(
                field="fire_release", heading="Fire release", form=values.YES_NO, example="yes",
                note="Whether the fire alarm frees it. The fire strategy and the local code decide.",
                synonyms=("fire alarm release", "released on fire"),
            ),
            Column(
                field="emergency_release", heading="Emergency release", form=values.YES_NO, example="yes",
                note="Whether there is an emergency release device beside it.", synonyms=("break glass", "emergency"),
            ),
            ID,
        ),
    ),
    Sheet(
        name="Switches", kind=Switch, note="Network switches that feed units.",
        synonyms=("switch", "network switches", "poe switches"), matches=(("name",), ("serial",), ("mac",)),
        columns=(
            _name("What the switch is called.", "Switch 1", "switch", "switch name"),
            _type((ProfileKind.SWITCH,), "profile:switch"),
            _PLACE, _SERIAL, _MAC, _SUBNET, _ADDRESS, ID,
        ),
    ),
    Sheet(
        name="Supplies", kind=Supply, note="Extra-low-voltage supplies for locks, switches and units.",
        synonyms=("supply", "power supplies", "psus", "psu"), matches=(("name",),),
        columns=(
            _name("What the supply is called.", "Lock supply 1", "supply", "power supply"),
            _type((ProfileKind.SUPPLY,), "profile:supply"),
            _PLACE,
            Column(
                field="battery_ah", heading="Battery (Ah)", form=number("Ah"), example=7,
                note="Capacity of its standby battery, in ampere-hours; blank where there is none.",
                synonyms=("battery", "battery ah", "battery capacity"),
            ),
            ID,
        ),
    ),
    Sheet(
        name="Modules", kind=KeyModule, note="Modules beside a visitor call unit: further keys, or a lock output.",
        synonyms=("module", "key modules", "extension modules"), matches=(("unit", "ordinal"), ("serial",)),
        columns=(
            Column(
                field="unit", heading="Unit", refers=(Unit,), required=True, fills=True, when_gone=WhenGone.GOES_TOO,
                note="Name of the visitor call unit.", synonyms=("vcu", "panel"), example="Entrance panel", width=18,
            ),
            Column(
                field="ordinal", heading="Number", form=values.FROM_ONE, required=True, example=1,
                note="Counts from 1 in mounting order.", synonyms=("ordinal", "module", "module no", "no", "position"),
            ),
            _type((ProfileKind.KEY_MODULE, ProfileKind.LOCK_MODULE), "profile:key module"),
            _SERIAL,
            ID,
        ),
    ),
    Sheet(
        name="Keys", kind=Key, note="Which key rings which dwelling or desk. May be left to the planner.",
        synonyms=("key", "key plan", "buttons", "button plan"), matches=(("unit", "module", "slot"),),
        columns=(
            Column(
                field="unit", heading="Unit", refers=(Unit,), required=True, fills=True, when_gone=WhenGone.GOES_TOO,
                note="Name of the visitor call unit.", synonyms=("vcu", "panel"), example="Entrance panel", width=18,
            ),
            Column(
                field="module", heading="Module", form=values.WHOLE, required=True, example=0,
                note="Number of the module, 0 for the keys built into the unit.", synonyms=("module no",),
            ),
            Column(
                field="slot", heading="Key", form=values.FROM_ONE, required=True, example=1,
                note="Number of the key in its module, counted from 1.", synonyms=("slot", "button", "key no"),
            ),
            _dwelling("The dwelling it rings; core/label where needed.", gone=WhenGone.GOES_TOO, example=1),
            _core(helper=True, note="Core of the dwelling, where several cores have its label."),
            Column(
                field="desk", heading="Desk", refers=(Unit,), when_gone=WhenGone.GOES_TOO, width=18,
                note="The desk unit (SMU) it rings instead of a dwelling.", synonyms=("smu", "concierge"),
            ),
            ID,
        ),
    ),
    Sheet(
        name="Cables", kind=CableRun, note="Cable runs from the feeding end to the fed end.",
        synonyms=("cable", "cable runs", "cable schedule", "runs", "cabling"),
        matches=(("name",), ("near", "far", "near_port")),
        columns=(
            _name("What the cable is called; made from its ends where blank.", "C001", "cable no", "cable id",
                  "cable number", "run", required=False),
            Column(
                field="near", heading="Near end", refers=ENDS, required=True, fills=True, when_gone=WhenGone.GOES_TOO,
                note="The feeding end: name of a switch or supply.", synonyms=("from", "near", "a end", "source"),
                example="Switch 1", width=18,
            ),
            Column(
                field="near_port", heading="Near port", form=values.FROM_ONE, example=1, synonyms=("port", "from port"),
                note="Port at the feeding end, counted from 1.",
            ),
            Column(
                field="far", heading="Far end", refers=ENDS, required=True, when_gone=WhenGone.GOES_TOO,
                note="The fed end: name of a unit, switch or door.", synonyms=("to", "far", "b end", "destination"),
                example="Entrance panel", width=18,
            ),
            Column(
                field="far_port", heading="Far port", form=values.FROM_ONE, note="Port at the fed end, for switches.",
                synonyms=("to port",),
            ),
            Column(
                field="cable", heading="Cable", note="Kind of cable: a key from the table of cables.", width=18,
                synonyms=("cable type", "cable kind", "type"),
            ),
            Column(
                field="length_m", heading="Length (m)", form=length("m"), example=25,
                note="Length in metres. Feet are converted.", synonyms=("length", "length m", "length ft", "metres"),
            ),
            Column(
                field="temperature_c", heading="Temperature (°C)", form=number("°C", least=None), example=30,
                note="Warmest the cable is expected to get, in degrees Celsius.", synonyms=("temperature", "temp"),
                width=16,
            ),
            ID,
        ),
    ),
    Sheet(
        name="Timetables", kind=Timetable, note="Weekly windows at an entrance. Rows of one name belong together.",
        synonyms=("timetable", "schedules", "time windows", "opening hours"), matches=(("entrance", "name"), ("name",)),
        columns=(
            _name("What the timetable is called.", "Trade hours", "timetable"),
            _entrance(required=True, gone=WhenGone.GOES_TOO, example="Main entrance"),
            Column(
                field="purpose", heading="Purpose", required=True, example=TimetablePurpose.TRADE_RELEASE.value,
                form=choice(TimetablePurpose, "purpose", {
                    "call": "calls go through", "calls": "calls go through", "divert": "calls divert",
                    "diverts": "calls divert", "trade": "trade release", "trades": "trade release",
                    "tradesman": "trade release",
                }),
                note="What happens inside the windows.", synonyms=("use", "what happens"), width=18,
            ),
            Column(
                field="windows", heading="Windows", form=values.WINDOWS, width=44,
                example="Mon-Fri 07:00-10:00; Hol 8-10",
                note="Days and times: Mon-Fri 08:00-12:30, 13:30-18:00; Sat 9-12; Hol 10-12. Hol stands for the site's "
                "holidays: with a window on them they have only that one. A window that ends at or before its start "
                "runs into the next day.",
                synonyms=("times", "hours", "when", "window"),
            ),
            Column(
                field="divert_to", heading="Diverts to", refers=(Unit,), width=18,
                note="The desk unit (SMU) that takes the calls.", synonyms=("divert to", "desk"),
            ),
            ID,
        ),
    ),
    Sheet(
        name="Diverts", kind=Divert, note="Where calls go instead: to another dwelling or to a desk.",
        synonyms=("divert", "call diverts", "diversions", "call forwarding", "forwarding"), blank_matches=True,
        matches=(("cause", "dwelling", "entrance", "timetable"),),
        columns=(
            Column(
                field="cause", heading="Cause", required=True, example=DivertCause.NO_ANSWER.value, width=16,
                form=choice(DivertCause, "cause of a divert", {
                    "all": "always", "all calls": "always", "every call": "always", "unconditional": "always",
                    "no reply": "no answer", "not answered": "no answer", "unanswered": "no answer",
                    "on no answer": "no answer", "no one answers": "no answer", "nobody answers": "no answer",
                    "engaged": "busy", "on busy": "busy", "when busy": "busy", "offline": "not registered",
                    "unregistered": "not registered", "not reachable": "not registered",
                    "unreachable": "not registered",
                }),
                note="Why a call goes elsewhere.", synonyms=("when", "why", "condition", "on"),
            ),
            _core(helper=True, note="Core of the dwelling, where several cores have its label."),
            _dwelling("Whose calls; core/label where needed. Blank: of all that the entrance serves.",
                      gone=WhenGone.GOES_TOO),
            Column(
                field="entrance", heading="Entrance", refers=(Entrance,), fills=True, when_gone=WhenGone.GOES_TOO,
                note="The entrance that they come from. Blank: from everywhere.", width=18, example="Main entrance",
                synonyms=("entry", "at entrance", "from", "from entrance", "calls from"),
            ),
            _timetable("The timetable inside whose windows it holds. Blank: at all times."),
            Column(
                field="to_dwelling", heading="To dwelling", refers=(Dwelling,), when_gone=WhenGone.GOES_TOO,
                note="The dwelling that takes the calls; core/label where needed.", example=1,
                synonyms=("diverts to dwelling", "to flat", "to home", "to apartment"),
            ),
            Column(
                field="to_desk", heading="To desk", refers=(Unit,), when_gone=WhenGone.GOES_TOO, width=18,
                note="The desk unit (SMU) that takes the calls instead of a dwelling.",
                synonyms=("diverts to desk", "to concierge", "to smu", "desk"),
            ),
            ID,
        ),
    ),
    Sheet(
        name="Release rights", kind=ReleaseRight, blank_matches=True,
        note="Who may free a door. Without a row for it: those whom its entrance serves, and the desk that it calls.",
        synonyms=("release right", "rights", "door rights", "access rights", "who may open", "permissions"),
        matches=(("door", "timetable", "who"), ("door", "timetable")),
        columns=(
            Column(
                field="door", heading="Door", refers=(Door,), required=True, fills=True, when_gone=WhenGone.GOES_TOO,
                note="Name of the door; entrance/door where several have the name.", synonyms=("lock", "door name"),
                example="Front door", width=18,
            ),
            Column(
                field="who", heading="Who", form=values.LIST_TEXT, required=True, width=40, example="all", lists=_MAY,
                note="Who may free it: all, or buildings, cores, dwellings and desks, separated by commas. Ranges such "
                "as 1-24 work; a label that several cores have is written core/label; desks stands for every desk.",
                synonyms=("may release", "may open", "may free", "who may open", "who may release", "opened by",
                          "released by", "dwellings", "flats", "serves"),
            ),
            _timetable("The timetable inside whose windows they may. Blank: at all times.", gone=WhenGone.REFUSED),
            ID,
        ),
    ),
    Sheet(
        name="Sealed lines", kind=SecretMark, in_template=False,
        note="Which line of the sealed sheet belongs to which unit. The secrets themselves are not in this file.",
        synonyms=("sealed sheet", "sealed lines list"), matches=(("owner", "use"),),
        columns=(
            Column(
                field="owner", heading="Owner", refers=OWNERS, required=True, when_gone=WhenGone.GOES_TOO, width=22,
                note="Name of the unit, switch or server.", synonyms=("unit",),
            ),
            Column(
                field="use", heading="Use", form=choice(SecretUse, "use of a secret"), required=True, width=16,
                note="What it opens.", synonyms=("opens",),
            ),
            Column(
                field="line", heading="Line", form=values.FROM_ONE, required=True, note="Its line on the sealed sheet.",
                synonyms=("line no", "line number"),
            ),
            ID,
        ),
    ),
)  # fmt: skip
"""The sheets in the order of reading: a sheet comes after those that its rows refer to."""

SHEET_BY_KIND: Final = {sheet.kind: sheet for sheet in SHEETS}
