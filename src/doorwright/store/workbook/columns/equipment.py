"""The sheets that describe what is mounted: servers, units, doors, switches, modules and keys."""

from typing import Final

from doorwright.model.door import Door, FailMode, LockKind, LockTakes
from doorwright.model.network import SipServer, Subnet, Switch
from doorwright.model.place import Building
from doorwright.model.profile import ProfileKind
from doorwright.model.unit import Key, KeyModule, Unit
from doorwright.store.workbook import values
from doorwright.store.workbook.columns.column import Column, Sheet, WhenGone
from doorwright.store.workbook.columns.recurring import (
    ADDRESS,
    CALL_NUMBER_WORDS,
    ID,
    MAC,
    PLACE,
    SERIAL,
    SUBNET,
    TYPE_WORDS,
    core_column,
    dwelling_column,
    entrance_column,
    name_column,
    type_column,
)
from doorwright.store.workbook.values import choice, length, number

_UNIT_KINDS: Final = (ProfileKind.VCU, ProfileKind.URU, ProfileKind.SMU)

EQUIPMENT_SHEETS: Final[tuple[Sheet, ...]] = (
    Sheet(
        name="Subnets", kind=Subnet, note="The ranges of addresses given to the system.",
        synonyms=("subnet", "networks", "ip ranges", "vlans"), matches=(("name",), ("cidr",)),
        columns=(
            name_column("What the subnet is called.", "Door entry", "subnet", "network"),
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
            name_column("What the server is called.", "SIP server", "server"),
            Column(
                field="address", heading="Address", form=values.ADDRESS, synonyms=ADDRESS.synonyms, width=16,
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
                field="calls_max_count", heading="Calls at once", form=values.FROM_ONE, example=30,
                note="How many calls it is licensed or sized for at the same time.",
                synonyms=("calls", "calls max", "maximum calls", "concurrent calls", "simultaneous calls", "sessions"),
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
            name_column("What the unit is called; no two alike.", "Entrance panel", "unit", "unit name", "device",
                        "panel"),
            Column(
                field="profile", heading="Type", profiles=_UNIT_KINDS, required=True, fills=True, width=18,
                synonyms=TYPE_WORDS, note="Unit type: a key or title from the profile list.", example="profile:VCU",
            ),
            entrance_column(required=False, gone=WhenGone.REFUSED, example="Main entrance"),
            dwelling_column("A URU's dwelling; core/label where several cores have the label.", gone=WhenGone.GOES_TOO),
            core_column(helper=True, note="Core of the dwelling, where several cores have its label."),
            PLACE,
            SERIAL,
            MAC,
            Column(
                field="firmware", heading="Firmware", note="Firmware version it runs.", example="3.2",
                synonyms=("firmware version", "fw", "version", "software"),
            ),
            SUBNET,
            ADDRESS,
            Column(
                field="call_number", heading="Call number", synonyms=CALL_NUMBER_WORDS,
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
            name_column("What the door is called.", "Front door", "door", "door name"),
            entrance_column(required=True, gone=WhenGone.REFUSED, example="Main entrance"),
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
                field="lock_takes", heading="Lock keeps", example=LockTakes.CURRENT.value, synonyms=(
                    "lock takes", "lock load", "constant", "kind of load", "load type"),
                form=choice(LockTakes, "kind of load", {
                    "constant current": "current", "amps": "current", "a": "current", "constant power": "power",
                    "watts": "power", "w": "power", "electronic": "power", "constant resistance": "resistance",
                    "ohms": "resistance", "coil": "resistance", "plain coil": "resistance",
                }),
                note="What stays the same of the lock when its voltage sinks: current, power or resistance. Current "
                "where nobody has said.",
            ),
            Column(
                field="lock_inrush_a", heading="Inrush current (A)", form=number("A"), example=0.9, width=16,
                note="Current at the moment of switching on, where it is more than the steady one, in amperes.",
                synonyms=("inrush current", "inrush", "inrush a", "peak current", "starting current", "lock inrush",
                          "pull in current"),
            ),
            Column(
                field="lock_hold_a", heading="Hold current (A)", form=number("A"), example=0.2,
                note="Current once the lock has pulled in, where it is less than the lock current, in amperes.",
                synonyms=("hold current", "holding current", "hold", "hold a", "lock hold"),
            ),
            Column(
                field="lock_suppressed", heading="Suppressed", form=values.YES_NO, example="yes",
                note="Whether a diode or varistor across the coil takes its spark.",
                synonyms=("suppression", "diode fitted", "diode", "varistor", "varistor fitted", "spark suppression",
                          "lock suppressed", "flyback diode"),
            ),
            Column(
                field="relock_s", heading="Relock time (s)", form=number("s"), example=1,
                note="How long the lock takes to hold again once the release time is over, in seconds.",
                synonyms=("relock time", "relock s", "relock", "relocks after", "relocking time"),
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
            Column(
                field="exit_button", heading="Exit button", form=values.YES_NO, example="yes",
                note="Whether there is a button beside it that frees it from inside.",
                synonyms=("request to exit", "exit switch", "push to exit", "door button", "egress button"),
            ),
            Column(
                field="exit_button_height_mm", heading="Exit button height (mm)", form=length("mm", is_whole=True),
                note="Height of that button above the finished floor, in millimetres.", example=1000, width=18,
                synonyms=("exit button height", "button height", "height of exit button", "exit height"),
            ),
            ID,
        ),
    ),
    Sheet(
        name="Switches", kind=Switch, note="Network switches that feed units.",
        synonyms=("switch", "network switches", "poe switches"), matches=(("name",), ("serial",), ("mac",)),
        columns=(
            name_column("What the switch is called.", "Switch 1", "switch", "switch name"),
            type_column((ProfileKind.SWITCH,), "profile:switch"),
            PLACE, SERIAL, MAC, SUBNET, ADDRESS, ID,
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
            type_column((ProfileKind.KEY_MODULE, ProfileKind.LOCK_MODULE), "profile:key module"),
            SERIAL,
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
            dwelling_column("The dwelling it rings; core/label where needed.", gone=WhenGone.GOES_TOO, example=1),
            core_column(helper=True, note="Core of the dwelling, where several cores have its label."),
            Column(
                field="desk", heading="Desk", refers=(Unit,), when_gone=WhenGone.GOES_TOO, width=18,
                note="The desk unit (SMU) it rings instead of a dwelling.", synonyms=("smu", "concierge"),
            ),
            ID,
        ),
    ),
)  # fmt: skip
