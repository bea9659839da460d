"""The calculations of a book: every question, the least margin first, and the workings of each case."""

from dataclasses import dataclass
from typing import Any, Final

from starlette.exceptions import HTTPException

from doorwright.app.calculate import Case, Explained, Heading, Question, explained, questions
from doorwright.app.draw import SERIES_BY_NAME
from doorwright.kernel.verdict import Subject
from doorwright.model.site import PART_BY_KIND
from doorwright.studies import desk_queue, entrance_traffic, link_streams, supply_network, switch_power
from doorwright.studies.study import Study
from doorwright.web.answers import Answer, Page
from doorwright.web.asking import Ask, get
from doorwright.web.making import BeingMade, Tell
from doorwright.web.paging import Piece, piece, start_of
from doorwright.web.showing import book_url
from doorwright.web.views.drawings import SeriesLine, material, series_line

_CHARTS: Final = {
    supply_network.TITLE: "power-charts",
    switch_power.TITLE: "power-charts",
    entrance_traffic.TITLE: "blocking",
    desk_queue.TITLE: "hours",
    link_streams.TITLE: "links",
}
"""The charts that stand beside a question."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Worked:
    """All studies of a revision: by question, and each by its title and subject."""

    questions: tuple[Question, ...]
    studies: dict[tuple[str, Subject], Study[Any]]


@dataclass(frozen=True, slots=True, kw_only=True)
class QuestionLine:
    """A question with the case of least margin, and how many there are."""

    title: str
    address: str
    answered_count: int
    waiting_count: int
    short_count: int
    headings: tuple[Heading, ...]
    worst: Case | None


@dataclass(frozen=True, slots=True, kw_only=True)
class StudiesView:
    """All questions; ``step`` says how far they are while they are still being worked out."""

    revision: int
    step: str = ""
    questions: tuple[QuestionLine, ...] = ()
    charts: tuple[SeriesLine, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class QuestionView:
    """The cases of one question that hold the words looked for."""

    revision: int
    title: str
    address: str
    sought: str
    only: str
    headings: tuple[Heading, ...]
    cases: Piece[Case]
    waiting: Piece[Case]
    charts: tuple[SeriesLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CaseView:
    """One case with its workings."""

    revision: int
    title: str
    address: str
    headings: tuple[Heading, ...]
    case: Case
    part: str | None
    steps: tuple[Explained, ...]
    charts: tuple[SeriesLine, ...]


def page(ask: Ask) -> Answer:
    """Show every question with its case of least margin."""
    worked = _worked(ask)
    if isinstance(worked, BeingMade):
        return _waits(ask, worked)
    charts = tuple(_chart(ask, name) for name in dict.fromkeys(_CHARTS.values()))
    view = StudiesView(
        revision=ask.book.now()[0].number,
        questions=tuple(
            QuestionLine(
                title=one.title,
                address=book_url(ask.book.name, "studies", one.slug),
                answered_count=len(one.answered),
                waiting_count=len(one.waiting),
                short_count=sum(case.short for case in one.answered),
                headings=one.headings,
                worst=one.answered[0] if one.answered else None,
            )
            for one in sorted(worked.questions, key=_order)
        ),
        charts=tuple(chart for chart in charts if chart.sheets or chart.step),
    )
    return Page(template="studies/studies.html", title="Calculations", view=view)


def question(ask: Ask) -> Answer:
    """Show the cases of one question."""
    worked = _worked(ask)
    if isinstance(worked, BeingMade):
        return _waits(ask, worked)
    found = _question(worked, ask.path["question"])
    sought, only = ask.text("for").casefold(), ask.text("only")
    answered = [case for case in found.answered if _fits(case, sought) and (only != "short" or case.short)]
    waiting = [case for case in found.waiting if _fits(case, sought)] if only != "short" else []
    view = QuestionView(
        revision=ask.book.now()[0].number,
        title=found.title,
        address=book_url(ask.book.name, "studies", found.slug),
        sought=ask.text("for"),
        only=only,
        headings=found.headings,
        cases=piece(answered, start_of(ask)),
        waiting=piece(waiting, ask.whole("waiting_from", 0) or 0),
        charts=_charts_of(ask, found),
    )
    return Page(template="studies/question.html", title=found.title, view=view)


def case(ask: Ask) -> Answer:
    """Show one case with its workings."""
    worked = _worked(ask)
    if isinstance(worked, BeingMade):
        return _waits(ask, worked)
    found = _question(worked, ask.path["question"])
    kind, ident = ask.text("kind"), ask.text("id")
    study = worked.studies.get((found.title, Subject(kind, ident)))
    told = next((one for one in (*found.answered, *found.waiting) if (one.kind, one.ident) == (kind, ident)), None)
    if study is None or told is None:
        raise HTTPException(404, "nothing of this kind was calculated for such a part")
    view = CaseView(
        revision=ask.book.now()[0].number,
        title=found.title,
        address=book_url(ask.book.name, "studies", found.slug),
        headings=found.headings,
        case=told,
        part=book_url(ask.book.name, "parts", ident) if kind in PART_BY_KIND else None,
        steps=explained(study),
        charts=_charts_of(ask, found),
    )
    return Page(template="studies/case.html", title=f"{found.title}: {told.name}", view=view)


def _worked(ask: Ask) -> Worked | BeingMade:
    made_of = material(ask)

    def make(tell: Tell) -> Worked:
        tell("calculating")
        studies = made_of.studies
        tell("sorting the results")
        return Worked(
            questions=questions(made_of.walk, studies),
            studies={(study.title, study.subject): study for study in studies},
        )

    return ask.book.makings.of("studies", ask.book.now()[0].number, make)


def _waits(ask: Ask, making: BeingMade) -> Page:
    view = StudiesView(revision=ask.book.now()[0].number, step=making.step)
    return Page(template="studies/studies.html", title="Calculations", view=view)


def _question(worked: Worked, slug: str) -> Question:
    found = next((one for one in worked.questions if one.slug == slug), None)
    if found is None:
        raise HTTPException(404, "no such question was put to this site")
    return found


def _order(one: Question) -> tuple[bool, bool]:
    """Sort what is short before the rest, and what only waits behind it."""
    return not any(case.short for case in one.answered), not one.answered


def _fits(told: Case, sought: str) -> bool:
    return sought in f"{told.kind} {told.name} {told.where} {' '.join(told.missing)}".casefold()


def _charts_of(ask: Ask, found: Question) -> tuple[SeriesLine, ...]:
    name = _CHARTS.get(found.title)
    chart = _chart(ask, name) if name is not None else None
    return (chart,) if chart is not None and (chart.sheets or chart.step) else ()


def _chart(ask: Ask, name: str) -> SeriesLine:
    return series_line(ask, SERIES_BY_NAME[name], wait_s=0.2)


ROUTES: Final = (
    *get("/books/{book}/studies", page),
    *get("/books/{book}/studies/{question}", question),
    *get("/books/{book}/studies/{question}/case", case),
)
