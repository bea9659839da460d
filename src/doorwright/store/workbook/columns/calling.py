"""The sheets that describe where calls go, when, and who may free a door."""

from typing import Final

from doorwright.model.calling import Divert, DivertCause, Timetable, TimetablePurpose
from doorwright.model.door import Door, ReleaseRight
from doorwright.model.network import SipServer, Switch
from doorwright.model.place import Building, Core, Dwelling, Entrance
from doorwright.model.unit import SecretMark, SecretUse, Unit
from doorwright.store.workbook import values
from doorwright.store.workbook.columns.column import Column, Sheet, WhenGone
from doorwright.store.workbook.columns.recurring import (
    ID,
    core_column,
    dwelling_column,
    entrance_column,
    name_column,
    timetable_column,
)
from doorwright.store.workbook.values import choice

_OWNERS: Final = (Unit, Switch, SipServer)

_MAY: Final = (("buildings", Building), ("cores", Core), ("dwellings", Dwelling), ("desks", Unit))

CALLING_SHEETS: Final[tuple[Sheet, ...]] = (
    Sheet(
        name="Timetables", kind=Timetable, note="Weekly windows at an entrance. Rows of one name belong together.",
        synonyms=("timetable", "schedules", "time windows", "opening hours"), matches=(("entrance", "name"), ("name",)),
        columns=(
            name_column("What the timetable is called.", "Trade hours", "timetable"),
            entrance_column(required=True, gone=WhenGone.GOES_TOO, example="Main entrance"),
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
                "holidays: with a window on them they have only that one; Hol closed, alone or among others, says that "
                "they have none. A window that ends at or before its start runs into the next day.",
                synonyms=("times", "hours", "when", "window"),
            ),
            Column(
                field="closed_on_holidays", heading="Closed on holidays", form=values.YES_NO, example="no", width=18,
                note="Whether no window begins on a holiday of the site. What began on the eve runs to its end.",
                synonyms=("closed holidays", "closed on bank holidays", "closed on public holidays",
                          "not on holidays"),
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
        matches=(("cause", "dwelling", "desk", "entrance", "timetable"),),
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
            core_column(helper=True, note="Core of the dwelling, where several cores have its label."),
            dwelling_column("Whose calls; core/label where needed. Blank: of all that the entrance serves.",
                      gone=WhenGone.GOES_TOO),
            Column(
                field="desk", heading="Desk called", refers=(Unit,), when_gone=WhenGone.GOES_TOO, width=18,
                note="Instead of a dwelling: the desk unit (SMU) whose calls go elsewhere, such as at night.",
                synonyms=("of desk", "desk's calls", "whose desk", "for desk", "concierge called"),
            ),
            Column(
                field="entrance", heading="Entrance", refers=(Entrance,), fills=True, when_gone=WhenGone.GOES_TOO,
                note="The entrance that they come from. Blank: from everywhere.", width=18, example="Main entrance",
                synonyms=("entry", "at entrance", "from", "from entrance", "calls from"),
            ),
            timetable_column("The timetable inside whose windows it holds. Blank: at all times."),
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
            timetable_column("The timetable inside whose windows they may. Blank: at all times.",
                             gone=WhenGone.REFUSED),
            ID,
        ),
    ),
    Sheet(
        name="Sealed lines", kind=SecretMark, in_template=False,
        note="Which line of the sealed sheet belongs to which unit. The secrets themselves are not in this file.",
        synonyms=("sealed sheet", "sealed lines list"), matches=(("owner", "use"),),
        columns=(
            Column(
                field="owner", heading="Owner", refers=_OWNERS, required=True, when_gone=WhenGone.GOES_TOO, width=22,
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
