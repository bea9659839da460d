"""The sheets that describe the building and who lives where."""

from typing import Final

from doorwright.model.calling import RingMode
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level, Place, PlaceKind
from doorwright.model.profile import ProfileKind
from doorwright.store.workbook import values
from doorwright.store.workbook.columns.column import Column, Sheet, WhenGone
from doorwright.store.workbook.columns.recurring import (
    BUILDING_WORDS,
    CALL_NUMBER_WORDS,
    CORE_WORDS,
    DWELLING_WORDS,
    ID,
    LEVEL_WORDS,
    MAC,
    PLACE,
    RING_MODE,
    SERIAL,
    core_column,
    name_column,
)
from doorwright.store.workbook.values import choice, length, whole

_SERVED: Final = (
    ("serves_buildings", Building), ("serves_cores", Core), ("serves_dwellings", Dwelling),
)  # fmt: skip

BUILDING_SHEETS: Final[tuple[Sheet, ...]] = (
    Sheet(
        name="Buildings", kind=Building, note="The buildings on the premises. May be left out where there is one.",
        synonyms=("building", "houses", "towers", "blocks list"), matches=(("name",),),
        columns=(
            name_column("What the building is called.", "North House", "building", *BUILDING_WORDS, required=False),
            ID,
        ),
    ),
    Sheet(
        name="Cores", kind=Core, note="Stair-and-lift cores. May be left out: the dwellings name them too.",
        synonyms=("core", "staircases", "stairs", "stair cores"), matches=(("building", "name"), ("name",)),
        columns=(
            Column(
                field="building", heading="Building", refers=(Building,), fills=True, synonyms=BUILDING_WORDS,
                when_gone=WhenGone.REFUSED, note="Its building; may be blank where there is one.",
                example="North House",
            ),
            name_column("What the core is called.", "A", "core", *CORE_WORDS, required=False),
            Column(
                field="x_m", heading="X (m)", form=length("m", least=None), example=12,
                note="Where its riser stands on the plan: metres to the right of a corner of your choice.",
                synonyms=("x", "x m", "riser x", "easting"),
            ),
            Column(
                field="y_m", heading="Y (m)", form=length("m", least=None), example=8,
                note="Metres upwards on the plan from the same corner.", synonyms=("y", "y m", "riser y", "northing"),
            ),
            ID,
        ),
    ),
    Sheet(
        name="Levels", kind=Level, note="The storeys of each building. May be left out: the dwellings name them too.",
        synonyms=("level", "floors", "storeys", "stories"), matches=(("building", "name"), ("name",)),
        columns=(
            Column(
                field="building", heading="Building", refers=(Building,), fills=True, synonyms=BUILDING_WORDS,
                when_gone=WhenGone.REFUSED, note="Its building; may be blank where there is one.",
                example="North House",
            ),
            name_column("What the level is called.", "Ground", "level", *LEVEL_WORDS, required=False),
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
            Column(
                field="crosses", heading="Crosses", form=values.YES_NO, example="yes",
                note="Yes where cables may run from core to core on it.",
                synonyms=("crossing", "crossing level", "cables cross", "cables may cross", "links cores"),
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
                field="door_label", heading="Dwelling", required=True, synonyms=("number", *DWELLING_WORDS), example=1,
                note="What a visitor reads on the door. A range such as 1-24 or G01-G08 stands for one row each.",
            ),
            Column(
                field="building", heading="Building", refers=(Building,), fills=True, helper=True,
                synonyms=BUILDING_WORDS, note="Its building; may be blank where there is one.", example="North House",
            ),
            core_column(helper=False, example="A", note="Its stair-and-lift core; may be left out where there is one."),
            Column(
                field="level", heading="Level", refers=(Level,), fills=True, required=True, synonyms=LEVEL_WORDS,
                when_gone=WhenGone.REFUSED, note="Its storey.", example="Ground",
            ),
            Column(
                field="call_number", heading="Call number", synonyms=CALL_NUMBER_WORDS, example="001",
                note="The digits that reach it, where they are given already. Otherwise leave them to the planner.",
            ),
            Column(
                field="legend", heading="Legend", synonyms=("key legend", "key label", "name on key", "nameplate"),
                note="What stands beside its key, where that is not the door label.", width=20, example="Flat 1",
            ),
            Column(
                field="ring_mode", heading="Ring mode", form=RING_MODE, example=RingMode.TOGETHER.value,
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
                field="run_m", heading="Run (m)", form=length("m"), example=6,
                note="Way of a cable from the core's riser to its receiver, on its own level, in metres.",
                synonyms=("run", "run m", "way from riser", "from riser", "distance from riser", "run from riser"),
            ),
            Column(
                field="unit_profile", heading="Unit type", profiles=(ProfileKind.URU,), helper=True, fills=True,
                synonyms=("uru type", "receiver type", "uru", "receiver unit type", "unit model"), width=18,
                note="Type of its first user receiver unit. Further units stand in the sheet Units.",
                example="profile:URU",
            ),
            Column(
                field="unit_serial", heading="Serial", form=values.SERIAL, helper=True, synonyms=SERIAL.synonyms,
                note="Serial number of its first user receiver unit.", example="X00000001",
            ),
            Column(
                field="unit_mac", heading="MAC", form=values.MAC, helper=True, synonyms=MAC.synonyms, width=19,
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
            name_column("What the place is called.", "Lobby", "place", "location", "room"),
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
                field="building", heading="Building", refers=(Building,), fills=True, synonyms=BUILDING_WORDS,
                when_gone=WhenGone.REFUSED, note="Its building, where it lies in one.", example="North House",
            ),
            core_column(helper=False, example="A", note="Its core, where it lies in one."),
            Column(
                field="level", heading="Level", refers=(Level,), fills=True, synonyms=LEVEL_WORDS,
                when_gone=WhenGone.REFUSED, note="Its storey, where it lies on one.", example="Ground",
            ),
            Column(
                field="run_m", heading="Run (m)", form=length("m"), example=6,
                note="Way of a cable from the core's riser to it, on its own level, in metres.",
                synonyms=("run", "run m", "way from riser", "from riser", "distance from riser", "run from riser"),
            ),
            Column(
                field="switches_max_count", heading="Switches at most", form=values.WHOLE, width=16, example=0,
                note="How many switches may be mounted there: 0 for none; blank where nobody has said.",
                synonyms=("room for switches", "switch capacity", "capacity", "switches max", "max switches"),
            ),
            Column(
                field="main", heading="Main", form=values.YES_NO, example="no",
                note="Yes for the one place where the network begins.",
                synonyms=("main cupboard", "main room", "network begins", "head end"),
            ),
            ID,
        ),
    ),
    Sheet(
        name="Entrances", kind=Entrance, note="The ways in, and the dwellings that each one serves.",
        synonyms=("entrance", "ways in", "entries"), matches=(("name",),),
        columns=(
            name_column("What the entrance is called.", "Main entrance", "entrance", "entry"),
            PLACE,
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
)  # fmt: skip
