"""The sheet "Site": one setting a line."""

from typing import Final

from doorwright import data
from doorwright.model.calling import RingMode
from doorwright.model.site import KeyOrder, NumberPrefix, NumberScheme
from doorwright.store.workbook import values
from doorwright.store.workbook.columns.assumptions import HABIT_SETTINGS, MEDIA_SETTINGS
from doorwright.store.workbook.columns.column import Setting
from doorwright.store.workbook.columns.recurring import RING_MODE
from doorwright.store.workbook.dates import DATES
from doorwright.store.workbook.values import choice, keyed, length, number, whole

SITE_SYNONYMS: Final = ("project", "premises", "site details", "general", "settings")
SITE_NOTE: Final = "The site as a whole, one setting a line."
_PRACTICE: Final = keyed({key: row["title"] for key, row in data.table("standby").items()}, "practice of standby")

SETTINGS: Final[tuple[Setting, ...]] = (
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
        field="choices.ring_mode", heading="Ring mode", form=RING_MODE, example=RingMode.TOGETHER.value,
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
        field="choices.slack_m", heading="Slack (m)", form=length("m"), example=5,
        note="What is added to each planned cable for both its ends together, in metres.",
        synonyms=("slack", "slack m", "cable slack", "spare length"),
    ),
    Setting(
        field="choices.link_max_m", heading="Longest link (m)", form=length("m"), example=90,
        note="How long a planned data cable may be at most, in metres.",
        synonyms=("longest link", "link max m", "longest cable", "maximum link length"),
    ),
    Setting(
        field="choices.waste_ratio", heading="Waste of cable", form=values.RATIO, example=0.1,
        note="Share of cable that is ordered beyond its length, such as 0.1 or 10 %.",
        synonyms=("waste", "waste ratio", "cable waste", "wastage", "cutting loss"),
    ),
    Setting(
        field="choices.spare_parts_ratio", heading="Spare parts", form=values.RATIO, example=0.05,
        note="Share of each unit type that is ordered beyond what is mounted, such as 0.05 or 5 %.",
        synonyms=("spare parts ratio", "spare units", "spare equipment"),
    ),
    Setting(
        field="choices.standby_practice", heading="Standby practice", form=_PRACTICE, example="plain",
        note="By whose practice batteries are sized. None of them is written for door entry: the local code decides.",
        synonyms=("battery practice", "standby standard", "battery sizing", "practice of standby"),
    ),
    Setting(
        field="choices.poe_diversity_ratio", heading="PoE diversity", form=values.PART_OF_ONE, example=1,
        note="Share of what all units on a switch may draw that they draw at once at the most, such as 0.8 or 80 %. 1: "
        "all of them may. What a switch sets aside by class stays whole.",
        synonyms=("diversity", "diversity factor", "poe diversity factor", "poe simultaneity", "coincidence factor"),
    ),
    Setting(
        field="choices.poe_efficiency_ratio", heading="PoE efficiency", form=values.PART_OF_ONE, example=0.85,
        note="Share of the power taken for it that a switch gives by PoE, where its profile does not say: an "
        "assumption.",
        synonyms=("efficiency", "poe efficiency ratio", "switch efficiency", "poe conversion efficiency"),
    ),
    Setting(
        field="currency", heading="Currency", note="Currency of all prices.", example="EUR",
        synonyms=("currency of prices", "prices in"),
    ),
    Setting(
        field="holidays", heading="Holidays", form=DATES,
        note="Dates such as 2026-12-25, separated by commas; or a sheet Holidays with a date and its name a row.",
        synonyms=("bank holidays", "public holidays"),
    ),
    *HABIT_SETTINGS,
    *MEDIA_SETTINGS,
)  # fmt: skip
