"""Accept a finding for a while, with a reason and a name; end that before its time; list what was accepted."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from doorwright.app.check_book import check_book
from doorwright.app.means import Means
from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.trail import Act
from doorwright.kernel.verdict import Finding
from doorwright.kernel.waiver import Waiver
from doorwright.kernel.words import counted
from doorwright.model.naming import name_of_subject
from doorwright.model.walk import Walk
from doorwright.rules.catalogue import RULE_BY_ID
from doorwright.store.book import Book
from doorwright.store.record import WaiverEnd


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """A recorded waiver, the labels of its parts, and who ended it before its time, if anybody did."""

    waiver: Waiver
    labels: tuple[str, ...]
    current: bool
    ended: WaiverEnd | None


def waive(book_path: Path, rule: str, part: str, means: Means, *, reason: str, until: date) -> tuple[Waiver, ...]:
    """Waive the findings of a rule on the part with this label; return one waiver a finding.

    What is waived already, to an earlier day, is waived to the later one.

    Raises:
        Refused: no such rule, no reason, or an end that has passed (all of these are told at once); no such finding, or
            it is waived for as long already.
    """
    today = means.today()
    _see_given(rule, reason, until, today)
    checked = check_book(book_path, means)

    def is_meant(finding: Finding) -> bool:
        labels = (checked.labels[subject].casefold() for subject in finding.subjects)
        return finding.rule == rule and part.casefold() in labels

    accepted = [(finding, waiver) for finding, waiver in checked.assessment.waived if is_meant(finding)]
    findings = [finding for finding in checked.assessment.findings if is_meant(finding)]
    findings += [finding for finding, waiver in accepted if waiver.until < until]
    if not findings and accepted:
        waiver = accepted[0][1]
        raise Refused(
            f"what {rule} finds on {part!r} is waived by {waiver.by} until {waiver.until} already",
            remedy=f"To have it end sooner, end that waiver first: doorwright waive {book_path} --end {waiver.id}",
        )
    if not findings:
        raise Refused(
            f"{rule} finds nothing on {part!r}", remedy=f"See what it finds: doorwright check {book_path} --rule {rule}"
        )
    with Book.open(book_path) as book:
        return _given(book, findings, means, reason=reason, until=until)


def accept(book: Book, findings: Sequence[Finding], means: Means, *, reason: str, until: date) -> tuple[Waiver, ...]:
    """Waive findings that somebody looks at, for a reason, until a day; return one waiver a finding.

    Raises:
        Refused: no reason, or an end that has passed; or there is nothing to waive.
    """
    for finding in findings:
        _see_given(finding.rule, reason, until, means.today(), reason_at="reason", until_at="until")
    if not findings:
        raise Refused("this is not found any more", remedy="Load the findings again.")
    return _given(book, findings, means, reason=reason, until=until)


def _given(book: Book, findings: Sequence[Finding], means: Means, *, reason: str, until: date) -> tuple[Waiver, ...]:
    waivers = tuple(
        Waiver(
            id=means.new_id(),
            rule=finding.rule,
            subjects=finding.subjects,
            reason=reason.strip(),
            by=means.who,
            on=means.today(),
            until=until,
        )
        for finding in findings
    )
    for waiver in waivers:
        book.waive(waiver)
    rules = ", ".join(dict.fromkeys(finding.rule for finding in findings))
    book.note_trail(means.trace(Act.WAIVED, f"{counted(len(waivers), 'finding')} of {rules} until {until}"))
    return waivers


def _see_given(
    rule: str, reason: str, until: date, today: date, *, reason_at: str = "--reason", until_at: str = "--until"
) -> None:
    cases = (
        (rule not in RULE_BY_ID, "RULE", rule, "there is no such rule", "All rules: doorwright explain"),
        (not reason.strip(), reason_at, reason, "a waiver needs a reason", "Say why the finding may stand."),
        (until < today, until_at, f"{until}", "this day has passed", "Give a day from today on."),
    )
    mistakes = tuple(
        Mistake(where=where, read=read, problem=problem, remedy=remedy)
        for wrong, where, read, problem, remedy in cases
        if wrong
    )
    if mistakes:
        raise Refused("nothing was waived", remedy="Give the command again.", mistakes=mistakes)


def end_waiver(book_path: Path, ident: str, means: Means) -> None:
    """End a waiver before its time: from today its finding is told again.

    Raises:
        Refused: the book has no such waiver, or it has ended already.
    """
    with Book.open(book_path) as book:
        end_in(book, ident, means)


def end_in(book: Book, ident: str, means: Means) -> None:
    """End a waiver of an open book before its time.

    Raises:
        Refused: the book has no such waiver, or it has ended already.
    """
    today = means.today()
    given = next((one for one in book.waivers() if one.id == ident), None)
    ended = {one.waiver for one in book.waiver_ends()}
    if given is not None and given.has_ended(today) and ident not in ended:
        raise Refused(f"waiver {ident} ended on {given.until} by itself", remedy="Nothing is left to do.")
    book.end_waiver(ident, by=means.who, on=today)
    book.note_trail(means.trace(Act.WAIVER_ENDED, f"{given.rule} ({ident})" if given is not None else ident))


def list_waivers(book_path: Path, means: Means) -> tuple[Listed, ...]:
    """Return every waiver of a book in the order of recording.

    Raises:
        Refused: the book cannot be read.
    """
    with Book.open(book_path, read_only=True) as book:
        return listed(book, Walk(book.site()), means)


def listed(book: Book, walk: Walk, means: Means) -> tuple[Listed, ...]:
    """Return every waiver of an open book in the order of recording; ``walk`` names the parts."""
    ends = {one.waiver: one for one in book.waiver_ends()}
    today = means.today()
    return tuple(
        Listed(
            waiver=one,
            labels=tuple(name_of_subject(walk, subject) for subject in one.subjects),
            current=not one.has_ended(today),
            ended=ends.get(one.id),
        )
        for one in book.waivers()
    )
