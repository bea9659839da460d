"""The work on site, shared among technicians."""

from dataclasses import dataclass, fields
from typing import Final

from starlette.exceptions import HTTPException

from doorwright.app.draw import TECHNICIANS_COUNT, TECHNICIANS_MOST
from doorwright.app.means import Means
from doorwright.app.schedule_work import Scheduled, schedule_work
from doorwright.kernel.person import Role
from doorwright.plan.schedule import Pace, Times, Visit
from doorwright.render.svg.gantt import clock
from doorwright.web.answers import Answer, Begun, Download, Go, Page
from doorwright.web.asking import Ask, get, post
from doorwright.web.filled import Filled
from doorwright.web.showing import book_url
from doorwright.web.views.drawings import inline

SEARCH_S: Final = 20.0
SEARCH_MOST_S: Final = 3600.0
_TIME_MOST_S: Final = 86_400
_WALKS: Final = {
    "door_s": "To another door, cupboard or entrance on the same level",
    "level_s": "For each level up or down",
    "core_s": "From the ground of one core to that of another in the same building",
    "building_s": "From one building to another",
}
_HANDS: Final = {
    "unit_s": "To enter one unit's settings at the unit",
    "registrar_s": "To enter one unit at what it registers with",
    "switch_s": "To power up and set a switch, or to start a SIP server",
    "look_s": "To see whether one unit has registered",
    "call_s": "To call one dwelling from one entrance, speak and look",
    "release_s": "To test the release of one door",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class TimeField:
    """A time that may be chosen, and what is usual, in seconds."""

    name: str
    words: str
    usual_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ScheduleForm:
    """What may be chosen, with what is usual."""

    revision: int
    technicians_count: int = TECHNICIANS_COUNT
    technicians_most: int = TECHNICIANS_MOST
    search_s: float = SEARCH_S
    walks: tuple[TimeField, ...]
    hands: tuple[TimeField, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitLine:
    """One job of one technician: times from the start of the work."""

    start: str
    end: str
    walk: str
    wait: str
    number: int
    stage: str
    where: str
    action: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnSheet:
    """A drawing of the schedule, as a file."""

    name: str
    title: str
    file: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ScheduleView:
    """The schedule, technician by technician, and how good it is. ``assumed`` are parts without a place."""

    revision: int
    finish: str
    bound: str
    gap_ratio: float
    in_list_order: str
    made_by: str
    assumed: tuple[str, ...]
    technicians: tuple[tuple[VisitLine, ...], ...]
    sheets: tuple[DrawnSheet, ...]


def page(ask: Ask) -> Answer:
    """Ask how the work is to be shared."""
    view = ScheduleForm(
        revision=ask.book.now()[0].number, walks=_time_fields(Pace(), _WALKS), hands=_time_fields(Times(), _HANDS)
    )
    return Page(template="schedule/schedule.html", title="Schedule", view=view)


def share(ask: Ask) -> Answer:
    """Share the work."""
    filled = Filled(ask, {"technicians": "Technicians", "search": "Search", **_WALKS, **_HANDS})
    technicians_count = filled.whole("technicians", default=TECHNICIANS_COUNT, least=1, most=TECHNICIANS_MOST)
    search_s = filled.number("search", default=SEARCH_S, least=0.0, most=SEARCH_MOST_S)
    pace, times = (
        {
            one.name: filled.whole(one.name, default=getattr(usual, one.name), least=0, most=_TIME_MOST_S)
            for one in fields(usual)
        }
        for usual in (Pace(), Times())
    )
    filled.see("nothing was shared out")
    remote_registrar = ask.chosen("remote_registrar")
    book = ask.book

    def work(means: Means) -> Go:
        scheduled = schedule_work(
            book.path,
            means,
            technicians=technicians_count,
            seconds=search_s,
            pace=Pace(**pace),
            times=Times(**times),
            remote_registrar=remote_registrar,
        )
        return Go(book_url(book.name, "schedule", book.makings.keep(scheduled)))

    return Begun(ask.jobs.start("Sharing out the work", book.name, work, ask.means))


def result(ask: Ask) -> Answer:
    """Show a schedule."""
    scheduled = _scheduled(ask)
    made = scheduled.schedule
    here = book_url(ask.book.name, "schedule", ask.path["result"])
    view = ScheduleView(
        revision=scheduled.revision,
        finish=_hours(made.finish_s),
        bound=_hours(made.bound_s),
        gap_ratio=made.gap_ratio,
        in_list_order=_hours(made.in_list_order_s),
        made_by=made.made_by,
        assumed=made.work.assumed,
        technicians=tuple(tuple(map(_line, made.of(technician))) for technician in range(made.technicians)),
        sheets=tuple(
            DrawnSheet(name=one.name, title=one.title, file=f"{here}/{one.name}.svg") for one in scheduled.drawings
        ),
    )
    svgs = [inline(one.svg) for one in scheduled.drawings]
    return Page(template="schedule/result.html", title="Schedule", view=view, facts={"svgs": svgs})


def sheet(ask: Ask) -> Answer:
    """Give one drawing of a schedule as a file."""
    name = ask.path["name"]
    drawing = next((one for one in _scheduled(ask).drawings if one.name == name), None)
    if drawing is None:
        raise HTTPException(404, f"the schedule has no drawing {name!r}")
    return Download(name=f"{name}.svg", media_type="image/svg+xml", content=drawing.svg.encode(), inline=True)


def _scheduled(ask: Ask) -> Scheduled:
    try:
        return ask.book.makings.result(ask.path["result"], Scheduled)
    except LookupError as error:
        raise HTTPException(404, str(error)) from None


def _time_fields(usual: Pace | Times, words: dict[str, str]) -> tuple[TimeField, ...]:
    return tuple(
        TimeField(name=one.name, words=words[one.name], usual_s=getattr(usual, one.name)) for one in fields(usual)
    )


def _line(visit: Visit) -> VisitLine:
    job = visit.job
    return VisitLine(
        start=clock(visit.start_s),
        end=clock(visit.end_s),
        walk=_minutes(visit.walk_s),
        wait=_minutes(visit.wait_s),
        number=job.number + 1,
        stage=job.stage,
        where=job.where,
        action=job.action,
    )


def _hours(time_s: int) -> str:
    return f"{clock(time_s)} h"


def _minutes(time_s: int) -> str:
    return f"{time_s // 60}:{time_s % 60:02d}" if time_s else ""


ROUTES: Final = (
    *get("/books/{book}/schedule", page),
    *post("/books/{book}/schedule", share, needs=Role.WORK),
    *get("/books/{book}/schedule/{result}/{name}.svg", sheet, twin=False),
    *get("/books/{book}/schedule/{result}", result),
)
