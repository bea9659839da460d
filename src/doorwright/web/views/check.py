"""What the rules find, what was accepted for a while, and what they cannot judge yet."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from starlette.exceptions import HTTPException

from doorwright.app.check_book import Checked, check_book
from doorwright.app.means import Means
from doorwright.app.show_table import Tabled
from doorwright.app.supply import Blank, Gap, gaps, supply
from doorwright.app.waive import Listed, accept, end_in, listed
from doorwright.kernel.errors import Refused
from doorwright.kernel.person import Role
from doorwright.kernel.verdict import Finding, Phase, Subject
from doorwright.kernel.waiver import Waiver
from doorwright.kernel.words import counted
from doorwright.model.walk import Walk
from doorwright.rules.catalogue import RULE_BY_ID
from doorwright.rules.judge import Assessment
from doorwright.web.answers import Answer, Begun, Go, Page
from doorwright.web.asking import Ask, get, post
from doorwright.web.finding_groups import Group, Wanted, fitting, groups, next_places
from doorwright.web.paging import Piece, piece, start_of
from doorwright.web.showing import book_url
from doorwright.web.views.onward import OnwardView, onward_of

WAIVED_FOR_DAYS: Final = 180
"""So long a waiver is proposed to stand."""
_BLANKS_MOST: Final = 200
_CELL: Final = "cell:"


@dataclass(frozen=True, slots=True, kw_only=True)
class RuleLine:
    """A rule that finds something, and how often."""

    id: str
    title: str
    count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class WaivedLine:
    """A finding that was accepted: by whom, why, until when."""

    message: str
    rule: str
    reason: str
    by: str
    until: date
    id: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckView:
    """What the rules say of a revision. While they are still looking, there are no counts and no groups.

    ``with_secrets`` is the key of a check in which the secrets themselves were judged, empty for the live one.
    """

    revision: int
    looking: bool
    with_secrets: str
    is_newest: bool
    has_vault: bool
    summary: str
    by_severity: dict[str, int]
    came_back_count: int
    wanted: Wanted
    found_count: int
    rules: tuple[RuleLine, ...]
    phases: tuple[str, ...]
    groups: tuple[Group, ...]
    next_places: int | None
    waived: tuple[WaivedLine, ...]
    waivers: Piece[Listed]
    gaps: tuple[Gap, ...]
    onward: OnwardView


@dataclass(frozen=True, slots=True, kw_only=True)
class AcceptView:
    """A finding that may be accepted for a while."""

    rule: str
    title: str
    severity: str
    message: str
    why: str
    remedy: str
    subjects: tuple[str, ...]
    until: date


@dataclass(frozen=True, slots=True, kw_only=True)
class GapView:
    """One missing fact, with a field to fill in for each part that lacks it."""

    revision: int
    gap: Gap
    blanks: Piece[Blank]


@dataclass(frozen=True, slots=True)
class _Said:
    revision: int
    walk: Walk
    assessment: Assessment


def page(ask: Ask) -> Answer:
    """Show what the rules say."""
    head, walk = ask.book.now()
    key = ask.text("with")
    wanted = Wanted(
        by="place" if ask.text("by") == "place" else "rule",
        severity=ask.text("severity"),
        rule=ask.text("rule"),
        phase=ask.text("phase"),
        part=ask.text("part"),
        place=ask.text("place"),
        sought=ask.text("for"),
    )
    said = _said(ask, key)
    none = Assessment((), (), (), {})
    found = said.assessment if said is not None else none
    back = frozenset(finding for finding, _ in found.came_back)
    fits = fitting(found.findings, wanted)
    view = CheckView(
        revision=said.revision if said is not None else head.number,
        looking=said is None,
        with_secrets=key,
        is_newest=said is None or said.revision == head.number,
        has_vault=ask.book.book.vault() is not None,
        summary=_summary(found) if said is not None else "",
        by_severity={severity.value: count for severity, count in found.by_severity().items()},
        came_back_count=len(back),
        wanted=wanted,
        found_count=len(fits),
        rules=_rules(found),
        phases=tuple(Phase),
        groups=_groups(ask, said, fits, wanted, back),
        next_places=next_places(said.walk, fits, wanted, start_of(ask)) if said is not None else None,
        waived=tuple(_waived(finding, waiver) for finding, waiver in found.waived[:_BLANKS_MOST]),
        waivers=piece(tuple(reversed(listed(ask.book.book, walk, ask.means))), ask.whole("waivers_from", 0) or 0),
        gaps=gaps(said.walk, found, ask.means.profiles()) if said is not None else (),
        onward=onward_of(ask.book),
    )
    return Page(template="check/check.html", title="Check", view=view)


def check_secrets(ask: Ask) -> Answer:
    """Begin a check in which the secrets themselves are judged."""
    book, passphrase = ask.book, ask.text("passphrase")
    if not passphrase:
        raise Refused("no passphrase was given", remedy="Give the passphrase of the vault.")

    def work(means: Means) -> Go:
        checked = check_book(book.path, means, passphrase)
        return Go(book_url(book.name, "check", **{"with": book.makings.keep(checked)}))

    return Begun(ask.jobs.start("Checking, with the secrets", book.name, work, ask.means))


def ask_accept(ask: Ask) -> Answer:
    """Ask why a finding may stand, and until when."""
    finding = _finding(ask)
    rule = RULE_BY_ID[finding.rule]
    view = AcceptView(
        rule=finding.rule,
        title=rule.title,
        severity=finding.severity.value,
        message=finding.message,
        why=rule.why,
        remedy=rule.remedy,
        subjects=tuple(f"{subject.kind}:{subject.id}" for subject in finding.subjects),
        until=ask.means.today() + timedelta(days=WAIVED_FOR_DAYS),
    )
    return Page(template="check/accept.html", title="Accept a finding for a while", view=view, part="accept")


def accept_one(ask: Ask) -> Answer:
    """Accept a finding for a while."""
    finding = _finding(ask)
    try:
        until = date.fromisoformat(ask.text("until"))
    except ValueError:
        raise Refused(
            f"until: {ask.text('until')!r} is no day", remedy="Choose a day, or write it as 2030-06-30."
        ) from None
    accept(ask.book.book, (finding,), ask.means, reason=ask.text("reason"), until=until)
    _judge_again(ask)
    return Go(book_url(ask.book.name, "check"), f"Accepted until {until}: {finding.message}")


def end(ask: Ask) -> Answer:
    """End a waiver before its time."""
    ident = ask.text("id")
    end_in(ask.book.book, ident, ask.means)
    _judge_again(ask)
    return Go(f"{book_url(ask.book.name, 'check')}#waivers", "From today the finding is told again.")


def missing(ask: Ask) -> Answer:
    """Show the fields to fill in for one missing fact."""
    gap, revision = _gap(ask)
    view = GapView(revision=revision, gap=gap, blanks=piece(gap.blanks, start_of(ask), _BLANKS_MOST))
    return Page(template="check/missing.html", title=f"Missing: {gap.missing}", view=view)


def fill(ask: Ask) -> Answer:
    """Enter what was missing."""
    gap, _ = _gap(ask)
    texts = {
        name.removeprefix(_CELL): ask.text(name) for name in ask.fields if name.startswith(_CELL) and ask.text(name)
    }
    if ask.chosen("for_all"):
        text = ask.text("all")
        texts = {blank.id: texts.get(blank.id) or text for blank in gap.blanks}
    supplied = supply(Tabled(ask.book.book), gap, texts, ask.means)
    _judge_again(ask)
    said = f"{counted(supplied.filled_count, 'cell')} filled in; revision {supplied.revision} stands."
    return Go(f"{book_url(ask.book.name, 'check')}#missing", " ".join((said, *supplied.remarks[:4])))


def _said(ask: Ask, key: str) -> _Said | None:
    if key:
        try:
            checked = ask.book.makings.result(key, Checked)
        except LookupError as error:
            raise HTTPException(404, str(error)) from None
        walk = ask.book.now()[1]
        if checked.revision != ask.book.now()[0].number:
            walk = Walk(ask.book.book.site(checked.revision))
        return _Said(checked.revision, walk, checked.assessment)
    judged = ask.book.judged()
    return None if judged is None else _Said(judged.revision, judged.walk, judged.assessment)


def _finding(ask: Ask) -> Finding:
    """Return the finding that an address or a form names by its rule and parts."""
    said = _said(ask, ask.text("with"))
    if said is None:
        judged = ask.book.judge_now()
        said = _Said(judged.revision, judged.walk, judged.assessment)
    subjects = {Subject(*text.split(":", 1)) for text in ask.texts("part") if ":" in text}
    rule = ask.text("rule")
    for finding in said.assessment.findings:
        if finding.rule == rule and set(finding.subjects) == subjects:
            return finding
    raise HTTPException(404, "this is not found any more, or accepted already")


def _gap(ask: Ask) -> tuple[Gap, int]:
    judged = ask.book.judge_now()
    kind, name = ask.text("kind"), ask.text("field")
    for gap in gaps(judged.walk, judged.assessment, ask.means.profiles()):
        if (gap.missing.kind, gap.missing.field) == (kind, name):
            return gap, judged.revision
    raise HTTPException(404, f"no rule waits for the {name} of a {kind} any more")


def _judge_again(ask: Ask) -> None:
    ask.book.changed()
    ask.book.judge_now()


def _groups(
    ask: Ask, said: _Said | None, fits: list[Finding], wanted: Wanted, back: frozenset[Finding]
) -> tuple[Group, ...]:
    if said is None:
        return ()
    return groups(ask.book.name, said.walk, fits, wanted, back=back, start=start_of(ask))


def _summary(found: Assessment) -> str:
    return (
        f"Checked {found.judged_count}, failed {len(found.findings)}, waived {len(found.waived)}, "
        f"could not check {len(found.not_checked)}."
    )


def _rules(found: Assessment) -> tuple[RuleLine, ...]:
    counts: dict[str, int] = {}
    for finding in found.findings:
        counts[finding.rule] = counts.get(finding.rule, 0) + 1
    return tuple(RuleLine(id=rule, title=RULE_BY_ID[rule].title, count=count) for rule, count in counts.items())


def _waived(finding: Finding, waiver: Waiver) -> WaivedLine:
    return WaivedLine(
        message=finding.message,
        rule=finding.rule,
        reason=waiver.reason,
        by=waiver.by,
        until=waiver.until,
        id=waiver.id,
    )


ROUTES: Final = (
    *get("/books/{book}/check", page),
    *post("/books/{book}/check/secrets", check_secrets, needs=Role.PLAN),
    *get("/books/{book}/check/accept", ask_accept, needs=Role.PLAN),
    *post("/books/{book}/check/accept", accept_one, needs=Role.PLAN),
    *post("/books/{book}/check/end", end, needs=Role.PLAN),
    *get("/books/{book}/check/missing", missing),
    *post("/books/{book}/check/missing", fill, needs=Role.PLAN),
)
