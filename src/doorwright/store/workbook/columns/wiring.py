"""The sheets that describe what feeds and connects: supplies, junctions and cables."""

from typing import Final

from doorwright.model.door import Door
from doorwright.model.network import CableRun, Junction, Switch
from doorwright.model.power import Supply
from doorwright.model.profile import ProfileKind
from doorwright.model.unit import Unit
from doorwright.store.workbook import values
from doorwright.store.workbook.columns.column import Column, Sheet, WhenGone
from doorwright.store.workbook.columns.recurring import ID, PLACE, name_column, type_column
from doorwright.store.workbook.values import length, number

_ENDS: Final = (Unit, Switch, Door, Supply, Junction)

WIRING_SHEETS: Final[tuple[Sheet, ...]] = (
    Sheet(
        name="Supplies", kind=Supply, note="Extra-low-voltage supplies for locks, switches and units.",
        synonyms=("supply", "power supplies", "psus", "psu"), matches=(("name",),),
        columns=(
            name_column("What the supply is called.", "Lock supply 1", "supply", "power supply"),
            type_column((ProfileKind.SUPPLY,), "profile:supply"),
            PLACE,
            Column(
                field="battery_ah", heading="Battery (Ah)", form=number("Ah"), example=7,
                note="Capacity of its standby battery, in ampere-hours; blank where there is none.",
                synonyms=("battery", "battery ah", "battery capacity"),
            ),
            Column(
                field="battery_rate_h", heading="Battery rate (h)", form=number("h", least=0.01), example=20,
                note="Discharge time at which that capacity is quoted, in hours: 20 on most batteries.",
                synonyms=("battery rate", "rate h", "quoted at", "hour rate", "c rate", "battery rate h"),
            ),
            Column(
                field="battery_temperature_c", heading="Battery temperature (°C)", form=number("°C", least=None),
                note="Coldest that the battery gets, in degrees Celsius: a cold battery gives less.", example=15,
                synonyms=("battery temperature", "battery temp", "battery temperature c", "coldest battery",
                          "coldest", "lowest temperature"),
                width=16,
            ),
            Column(
                field="standby_h", heading="Standby (h)", form=number("h"), example=4,
                note="How long the owner wants its loads carried without mains, in hours.",
                synonyms=("standby", "standby time", "standby h", "autonomy", "backup time", "battery time",
                          "hours on battery"),
            ),
            Column(
                field="standby_busy_h", heading="Busy standby (h)", form=number("h"), example=0.5, width=16,
                note="For how long of that, at its end, every lock is worked as in a busy hour, in hours.",
                synonyms=("busy standby", "busy time", "standby busy h", "busy h", "of which busy", "alarm time"),
            ),
            ID,
        ),
    ),
    Sheet(
        name="Junctions", kind=Junction, note="Boxes in which a run from a supply parts into several.",
        synonyms=("junction", "junction boxes", "joints", "branch boxes", "distribution boxes", "connection boxes"),
        matches=(("name",),),
        columns=(
            name_column("What the junction is called; no two alike.", "Box 1", "junction", "junction box", "box"),
            PLACE,
            ID,
        ),
    ),
    Sheet(
        name="Cables", kind=CableRun, note="Cable runs from the feeding end to the fed end.",
        synonyms=("cable", "cable runs", "cable schedule", "runs", "cabling"),
        matches=(("name",), ("near", "far", "near_port"), ("near", "far")),
        columns=(
            name_column("What the cable is called; made from its ends where blank.", "C001", "cable no", "cable id",
                  "cable number", "run", required=False),
            Column(
                field="near", heading="Near end", refers=_ENDS, required=True, fills=True, when_gone=WhenGone.GOES_TOO,
                note="The feeding end: name of a switch, supply or junction.", width=18, example="Switch 1",
                synonyms=("from", "near", "a end", "source"),
            ),
            Column(
                field="near_port", heading="Near port", form=values.FROM_ONE, example=1, synonyms=("port", "from port"),
                note="Port at the feeding end, counted from 1.",
            ),
            Column(
                field="far", heading="Far end", refers=_ENDS, required=True, when_gone=WhenGone.GOES_TOO,
                note="The fed end: name of a unit, switch, door or junction.", width=18, example="Entrance panel",
                synonyms=("to", "far", "b end", "destination"),
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
            Column(
                field="fuse_a", heading="Fuse (A)", form=number("A"),
                note="Fuse at its near end, in amperes; blank where it has none of its own.",
                synonyms=("fuse", "fuse a", "fuse rating", "fused at", "protection", "breaker"),
            ),
            Column(
                field="bundle_count", heading="Bundle", form=values.FROM_ONE, example=12,
                note="How many such cables lie in one bundle, itself among them.",
                synonyms=("bundle count", "cables in bundle", "bundled", "bundle size", "bunched"),
            ),
            ID,
        ),
    ),
)  # fmt: skip
