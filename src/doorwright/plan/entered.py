"""Every field of the model: in which pieces of which unit's settings it is entered, or why in none.

``HANGS`` names for each field the kinds of pieces whose values hang on it; ``plan/hours.py``, ``plan/releases.py``,
``plan/pairing.py`` and ``plan/settings.py`` say at which unit, and at which end. ``NOT_ENTERED`` gives the reason for
every other field. A test changes each field of a whole site and holds both tables to what then differs, and finds
every field that stands in neither. The holidays go with every timetable and are not named again beside it. What
belongs where is common practice.
"""

from collections.abc import Mapping
from dataclasses import fields
from types import MappingProxyType
from typing import Final

from doorwright.model.calling import Divert, Timetable
from doorwright.model.door import Door, ReleaseRight
from doorwright.model.habits import CallHabits
from doorwright.model.media import MediaChoices
from doorwright.model.network import CableRun, Junction, SipServer, Subnet, Switch
from doorwright.model.part import Part
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level, Place
from doorwright.model.power import Supply
from doorwright.model.price import Price
from doorwright.model.site import Choices, Site
from doorwright.model.unit import Key, KeyModule, SecretMark, Unit
from doorwright.plan.piece import PieceKind

Owner = type[Part] | type[Site] | type[Choices] | type[CallHabits] | type[MediaChoices]
Field = tuple[Owner, str]

_OWN, _PAIRING, _CLOCK, _TIMETABLE, _RINGING, _DIVERT, _DOOR, _KEY, _DIRECTORY, _PORT = PieceKind

HANGS: Final[Mapping[Field, frozenset[PieceKind]]] = MappingProxyType(
    {
        field: frozenset(kinds)
        for field, kinds in (
            # the site
            ((Site, "time_zone"), (_CLOCK,)),
            ((Site, "holidays"), (_CLOCK,)),
            ((Site, "profiles"), (_DIRECTORY,)),  # whether a type lists dwellings by name
            ((Choices, "ring_mode"), (_RINGING,)),
            ((Choices, "ring_s"), (_RINGING,)),
            # the building: who is served, and so listed, diverted and let in
            ((Core, "building"), (_DIRECTORY, _TIMETABLE, _DIVERT, _DOOR)),
            ((Dwelling, "core"), (_DIRECTORY, _TIMETABLE, _DIVERT, _DOOR)),
            ((Dwelling, "door_label"), (_DIRECTORY,)),
            ((Dwelling, "legend"), (_DIRECTORY,)),
            ((Dwelling, "call_number"), (_OWN, _PAIRING, _RINGING, _DIVERT, _DOOR, _KEY, _DIRECTORY)),
            ((Dwelling, "ring_mode"), (_RINGING,)),
            ((Dwelling, "ring_s"), (_RINGING,)),
            ((Entrance, "serves_buildings"), (_DIRECTORY, _TIMETABLE, _DIVERT)),
            ((Entrance, "serves_cores"), (_DIRECTORY, _TIMETABLE, _DIVERT)),
            ((Entrance, "serves_dwellings"), (_DIRECTORY, _TIMETABLE, _DIVERT)),
            ((Entrance, "calls_desk"), (_DIRECTORY,)),
            # doors: in the unit that frees them
            ((Door, "entrance"), (_DOOR,)),
            ((Door, "fail_mode"), (_DOOR,)),
            ((Door, "freed_by"), (_DOOR, _TIMETABLE)),
            ((Door, "output"), (_DOOR,)),
            ((Door, "release_s"), (_DOOR,)),
            ((ReleaseRight, "door"), (_DOOR, _TIMETABLE)),
            ((ReleaseRight, "buildings"), (_DOOR,)),
            ((ReleaseRight, "cores"), (_DOOR,)),
            ((ReleaseRight, "dwellings"), (_DOOR,)),
            ((ReleaseRight, "desks"), (_DOOR,)),
            ((ReleaseRight, "timetable"), (_DOOR, _TIMETABLE)),
            # units: at their own end, at what they register with, at the switch port
            ((Unit, "name"), (_PAIRING, _DIVERT, _DOOR, _DIRECTORY, _PORT)),  # forks and callers go by name
            ((Unit, "kind"), (_OWN, _PAIRING, _TIMETABLE, _RINGING, _DIVERT, _DOOR, _DIRECTORY)),
            ((Unit, "profile"), (_DIRECTORY,)),
            ((Unit, "entrance"), (_TIMETABLE, _DIVERT, _DOOR, _DIRECTORY)),
            ((Unit, "dwelling"), (_OWN, _PAIRING, _RINGING)),
            ((Unit, "serial"), (_PAIRING,)),
            ((Unit, "subnet"), (_OWN, _PAIRING, _PORT)),
            ((Unit, "address"), (_OWN, _PAIRING)),
            ((Unit, "call_number"), (_OWN, _PAIRING, _TIMETABLE, _DIVERT, _DOOR, _KEY, _DIRECTORY)),
            ((Unit, "position"), (_OWN, _PAIRING)),
            ((Unit, "registrar"), (_OWN, _PAIRING, _RINGING, _DIVERT, _TIMETABLE)),
            ((Key, "unit"), (_KEY,)),
            ((Key, "module"), (_KEY,)),
            ((Key, "slot"), (_KEY,)),
            ((Key, "dwelling"), (_KEY,)),
            ((Key, "desk"), (_KEY,)),
            ((SecretMark, "owner"), (_OWN, _PAIRING)),
            ((SecretMark, "use"), (_OWN, _PAIRING)),
            ((SecretMark, "line"), (_OWN, _PAIRING)),
            # the network
            ((Subnet, "cidr"), (_OWN, _PAIRING)),
            ((Subnet, "gateway"), (_OWN, _PAIRING)),
            ((Subnet, "vlan"), (_OWN, _PAIRING, _PORT)),
            ((SipServer, "address"), (_OWN,)),
            ((SipServer, "port"), (_OWN,)),
            ((SipServer, "realm"), (_OWN, _PAIRING)),
            ((Switch, "name"), (_PORT,)),
            ((Switch, "subnet"), (_OWN,)),
            ((Switch, "address"), (_OWN,)),
            ((CableRun, "near"), (_PORT,)),
            ((CableRun, "far"), (_PORT,)),
            ((CableRun, "near_port"), (_PORT,)),
            ((CableRun, "far_port"), (_PORT,)),
            # hours
            ((Timetable, "name"), (_TIMETABLE, _DIVERT, _DOOR)),  # diverts and rights refer to it by name
            ((Timetable, "entrance"), (_TIMETABLE,)),
            ((Timetable, "purpose"), (_TIMETABLE,)),
            ((Timetable, "windows"), (_TIMETABLE,)),
            ((Timetable, "divert_to"), (_TIMETABLE,)),
            ((Timetable, "closed_on_holidays"), (_TIMETABLE,)),
            ((Divert, "cause"), (_DIVERT,)),
            ((Divert, "dwelling"), (_DIVERT, _TIMETABLE)),
            ((Divert, "desk"), (_DIVERT,)),
            ((Divert, "entrance"), (_DIVERT, _TIMETABLE)),
            ((Divert, "timetable"), (_DIVERT, _TIMETABLE)),
            ((Divert, "to_dwelling"), (_DIVERT,)),
            ((Divert, "to_desk"), (_DIVERT,)),
        )
    }
)
"""The kinds of pieces whose values hang on a field."""

_PAPER: Final = "stands on papers alone"
_ON_LABELS: Final = "stands on labels, strips and papers; the touch list has the label printed anew"
_PLANNER: Final = "steers what the planners still issue"
_BOX: Final = "belongs to the box; another box is mounted by hand, and all its settings are entered"
_LOCK: Final = "belongs to the lock and its wiring, for the rules and calculations"
_STRATEGY: Final = "answers the fire strategy's question; wired and tested on site, never entered in a unit"
_CABLE: Final = "belongs to the cable, for the calculations"
_BATTERY: Final = "belongs to the battery and what is asked of it, for the calculations"
_FEEDING: Final = "says what units take of the switch that feeds them, for the calculations"
_ROUTE: Final = "says where cables run, for drawings, lengths and the planner of switches"
_BUYING: Final = "belongs to the order: what is bought, and what it costs"
_HABIT: Final = "says what people are taken to do, for the calculations"
_MEDIUM: Final = "says what units and network are taken to do, for the calculations; no setting is planned from it"

NOT_ENTERED: Final[Mapping[Field, str]] = MappingProxyType(
    {
        (Site, "name"): _PAPER,
        (Site, "reference"): _PAPER,
        (Site, "standard_edition"): _PAPER,
        (Site, "grade"): "what the owner asked for, which the rules judge",
        (Site, "record_keeper"): _PAPER,
        (Site, "notes"): "what the user wrote beside it",
        (Choices, "number_scheme"): _PLANNER,
        (Choices, "number_prefix"): _PLANNER,
        (Choices, "number_digits_count"): _PLANNER,
        (Choices, "key_order"): _PLANNER,
        (Choices, "reserved_numbers"): _PLANNER,
        (Choices, "spare_ratio"): "what the rules ask of switches and supplies",
        (Choices, "ambient_c"): "how warm the calculations take it to be",
        (Choices, "slack_m"): _ROUTE,
        (Choices, "link_max_m"): _ROUTE,
        (Choices, "waste_ratio"): _BUYING,
        (Choices, "spare_parts_ratio"): _BUYING,
        (Choices, "standby_practice"): _BATTERY,
        (Choices, "poe_diversity_ratio"): _FEEDING,
        (Choices, "poe_efficiency_ratio"): _FEEDING,
        (Site, "currency"): _BUYING,
        **{(CallHabits, field.name): _HABIT for field in fields(CallHabits)},
        **{(MediaChoices, field.name): _MEDIUM for field in fields(MediaChoices)},
        (Building, "name"): _PAPER,
        (Core, "name"): _ON_LABELS,
        (Core, "x_m"): _ROUTE,
        (Core, "y_m"): _ROUTE,
        (Level, "building"): _PAPER,
        (Level, "name"): _ON_LABELS,
        (Level, "order"): _PLANNER,
        (Level, "height_m"): "how far apart the levels are, for drawings and lengths",
        (Level, "crosses"): _ROUTE,
        (Place, "name"): _ON_LABELS,
        (Place, "kind"): _PAPER,
        (Place, "building"): _PAPER,
        (Place, "core"): _PAPER,
        (Place, "level"): _ON_LABELS,
        (Place, "run_m"): _ROUTE,
        (Place, "switches_max_count"): _ROUTE,
        (Place, "main"): _ROUTE,
        (Dwelling, "level"): _ON_LABELS,
        (Dwelling, "run_m"): _ROUTE,
        (Entrance, "name"): _ON_LABELS,
        (Entrance, "place"): _PAPER,
        (Door, "name"): _PAPER,
        (Door, "lock"): _LOCK,
        (Door, "lock_rated_v"): _LOCK,
        (Door, "lock_operate_a"): _LOCK,
        (Door, "lock_minimum_v"): _LOCK,
        (Door, "lock_takes"): _LOCK,
        (Door, "lock_inrush_a"): _LOCK,
        (Door, "lock_hold_a"): _LOCK,
        (Door, "lock_suppressed"): _LOCK,
        (Door, "relock_s"): "how long the lock itself takes; the unit is told its release time alone",
        (Door, "escape_route"): _STRATEGY,
        (Door, "fire_door"): _STRATEGY,
        (Door, "fire_release"): _STRATEGY,
        (Door, "emergency_release"): _STRATEGY,
        (Door, "exit_button"): _STRATEGY,
        (Door, "exit_button_height_mm"): "measured on the wall when it is mounted",
        (Unit, "place"): _ON_LABELS,
        (Unit, "mac"): _BOX,
        (Unit, "firmware"): "loaded, not entered; its steps are planned by themselves",
        (Unit, "height_mm"): "measured on the wall when it is mounted",
        (KeyModule, "unit"): "fitted by hand, which the touch list says",
        (KeyModule, "profile"): "fitted by hand, which the touch list says",
        (KeyModule, "ordinal"): "fitted by hand, which the touch list says",
        (KeyModule, "serial"): _BOX,
        (Subnet, "name"): _PAPER,
        (Subnet, "first"): _PLANNER,
        (Subnet, "last"): _PLANNER,
        (Subnet, "reserved"): _PLANNER,
        (Subnet, "kinds"): _PLANNER,
        (SipServer, "name"): _PAPER,
        (SipServer, "registrations_max"): "what it is licensed or sized for, which the rules judge",
        (SipServer, "calls_max_count"): "what it is licensed or sized for, which the rules judge",
        (SipServer, "serves_buildings"): _PLANNER,
        (Switch, "profile"): _BOX,
        (Switch, "place"): _ON_LABELS,
        (Switch, "serial"): _BOX,
        (Switch, "mac"): _BOX,
        (Supply, "name"): _PAPER,
        (Supply, "profile"): _BOX,
        (Supply, "place"): _PAPER,
        (Supply, "battery_ah"): _BATTERY,
        (Supply, "battery_rate_h"): _BATTERY,
        (Supply, "battery_temperature_c"): _BATTERY,
        (Supply, "standby_h"): _BATTERY,
        (Supply, "standby_busy_h"): _BATTERY,
        (Junction, "name"): _PAPER,
        (Junction, "place"): _PAPER,
        (CableRun, "name"): _PAPER,
        (CableRun, "cable"): _CABLE,
        (CableRun, "length_m"): _CABLE,
        (CableRun, "temperature_c"): _CABLE,
        (CableRun, "fuse_a"): _CABLE,
        (CableRun, "bundle_count"): _CABLE,
        (Price, "item"): _BUYING,
        (Price, "amount"): _BUYING,
        (Price, "per"): _BUYING,
        (Price, "drum_m"): _BUYING,
    }
)
"""The other fields, and why nobody enters them in a unit. Of every part, ``id`` and ``notes`` are ours alone."""
