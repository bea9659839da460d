"""Planning: what it would issue, what it issued and why, and what keeps it from being complete."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Final

from starlette.exceptions import HTTPException

from doorwright.app.explain_plan import Why, explain_plan
from doorwright.app.means import Means
from doorwright.app.plan_book import Planned, foresee, plan_book
from doorwright.kernel.person import Role
from doorwright.model.naming import name_of_subject, where_is
from doorwright.model.walk import Walk
from doorwright.plan.draft import Issue, Trouble
from doorwright.web.answers import Answer, Begun, Go, Page
from doorwright.web.asking import Ask, get, post
from doorwright.web.making import BeingMade, Tell
from doorwright.web.paging import Piece, piece, start_of
from doorwright.web.showing import book_url
from doorwright.web.views.onward import OnwardView, onward_of


@dataclass(frozen=True, slots=True, kw_only=True)
class IssueLine:
    """Something issued: to what, where that is, what, its value, and why it is so. ``part`` is the way to its sheet."""

    name: str
    where: str
    part: str | None
    what: str
    value: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TroubleLine:
    """Something that cannot be planned, for which parts, and what would let it."""

    parts: tuple[str, ...]
    problem: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What planning issues or issued, in words."""

    counts: dict[str, int]
    lines: tuple[IssueLine, ...]
    troubles: tuple[TroubleLine, ...]
    secrets_waiting_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanView:
    """What would be issued (``done`` false) or was issued, those lines of it that were asked for.

    ``step`` says how far the telling is while it is still being worked out.
    """

    revision: int
    done: bool
    has_vault: bool
    address: str
    step: str = ""
    counts: dict[str, int]
    what: str
    sought: str
    lines: Piece[IssueLine]
    troubles: tuple[TroubleLine, ...]
    secrets_waiting_count: int
    onward: OnwardView


@dataclass(frozen=True, slots=True, kw_only=True)
class WhyView:
    """What keeps a plan from being complete."""

    revision: int
    found: tuple[Why, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Done:
    revision: int
    told: Told


_NOTHING: Final = Told(counts={}, lines=(), troubles=(), secrets_waiting_count=0)


def page(ask: Ask) -> Answer:
    """Tell what planning would issue."""
    head, walk = ask.book.now()
    site, means = walk.site, ask.means
    book = ask.book.name

    def make(tell: Tell) -> Told:
        seen = foresee(site, replace(means, progress=tell))
        tell("writing it down")
        lines = tuple(_lines(book, seen.issues, seen.walk, known=Walk(site)))
        return Told(
            counts=seen.issued,
            lines=lines,
            troubles=_troubles(seen.walk, seen.troubles),
            secrets_waiting_count=seen.secrets_waiting_count,
        )

    told = ask.book.makings.of("foreseen plan", head.number, make)
    step = told.step if isinstance(told, BeingMade) else ""
    view = _view(
        ask,
        _NOTHING if isinstance(told, BeingMade) else told,
        revision=head.number,
        done=False,
        address=book_url(ask.book.name, "plan"),
    )
    return Page(template="plan/plan.html", title="Plan", view=replace(view, step=step))


def plan(ask: Ask) -> Answer:
    """Plan, and save."""
    book = ask.book
    passphrase = ask.text("passphrase") or None

    def work(means: Means) -> Go:
        planned = plan_book(book.path, means, passphrase)
        book.changed()
        key = book.makings.keep(_Done(revision=planned.revision, told=_told(book.name, planned, book.now()[1])))
        return Go(book_url(book.name, "plan", key), f"Planned. Revision {planned.revision} stands.")

    return Begun(ask.jobs.start("Planning", book.name, work, ask.means))


def result(ask: Ask) -> Answer:
    """Tell what was issued, and why."""
    try:
        done = ask.book.makings.result(ask.path["result"], _Done)
    except LookupError as error:
        raise HTTPException(404, str(error)) from None
    here = book_url(ask.book.name, "plan", ask.path["result"])
    view = _view(ask, done.told, revision=done.revision, done=True, address=here)
    return Page(template="plan/plan.html", title="Planned", view=view)


def ask_why(ask: Ask) -> Answer:
    """Begin to look for what keeps the plan from being complete."""
    book, revision = ask.book, ask.book.now()[0].number

    def work(means: Means) -> Go:
        means.progress("looking for the fewest causes")
        view = WhyView(revision=revision, found=explain_plan(book.path))
        return Go(book_url(book.name, "plan", "why", book.makings.keep(view)))

    return Begun(ask.jobs.start("Why it cannot be planned", book.name, work, ask.means))


def why(ask: Ask) -> Answer:
    """Tell what keeps the plan from being complete."""
    try:
        view = ask.book.makings.result(ask.path["result"], WhyView)
    except LookupError as error:
        raise HTTPException(404, str(error)) from None
    return Page(template="plan/why.html", title="Why it cannot be planned", view=view)


def _view(ask: Ask, told: Told, *, revision: int, done: bool, address: str) -> PlanView:
    what, sought = ask.text("what"), ask.text("for")
    lines = [line for line in told.lines if (not what or line.what == what) and _holds(line, sought.casefold())]
    return PlanView(
        revision=revision,
        done=done,
        has_vault=ask.book.book.vault() is not None,
        address=address,
        counts=told.counts,
        what=what,
        sought=sought,
        lines=piece(lines, start_of(ask)),
        troubles=told.troubles,
        secrets_waiting_count=told.secrets_waiting_count,
        onward=onward_of(ask.book),
    )


def _holds(line: IssueLine, sought: str) -> bool:
    return not sought or any(sought in text.casefold() for text in (line.name, line.where, line.value, line.why))


def _told(book: str, planned: Planned, walk: Walk) -> Told:
    return Told(
        counts=planned.issued,
        lines=tuple(_lines(book, planned.issues, walk, known=walk)),
        troubles=_troubles(walk, planned.troubles),
        secrets_waiting_count=planned.secrets_waiting_count,
    )


def _lines(book: str, issues: Iterable[Issue], walk: Walk, *, known: Walk) -> Iterable[IssueLine]:
    """Yield the issues in words; only a part that the book has already (``known``) has a sheet to lead to."""
    for issue in issues:
        part, meant = walk.part(issue.subject.id), walk.part(issue.value)
        yield IssueLine(
            name=name_of_subject(walk, issue.subject),
            where=where_is(walk, part) if part is not None else "",
            part=book_url(book, "parts", issue.subject.id) if known.part(issue.subject.id) is not None else None,
            what=issue.what,
            value=meant.label if meant is not None else issue.value,
            why=issue.why,
        )


def _troubles(walk: Walk, troubles: Iterable[Trouble]) -> tuple[TroubleLine, ...]:
    return tuple(
        TroubleLine(
            parts=tuple(name_of_subject(walk, subject) for subject in one.subjects),
            problem=one.problem,
            remedy=one.remedy,
        )
        for one in troubles
    )


ROUTES: Final = (
    *get("/books/{book}/plan", page),
    *post("/books/{book}/plan", plan, needs=Role.PLAN),
    *post("/books/{book}/plan/why", ask_why, needs=Role.WORK),
    *get("/books/{book}/plan/why/{result}", why),
    *get("/books/{book}/plan/{result}", result),
)
