"""Accept a finding for a while, with a reason and a name."""

from datetime import date
from pathlib import Path

from doorwright.app.check_book import check_book
from doorwright.app.means import Means
from doorwright.kernel.errors import Refused
from doorwright.kernel.waiver import Waiver
from doorwright.rules.catalogue import RULE_BY_ID
from doorwright.store.book import Book


def waive(book_path: Path, rule: str, part: str, means: Means, *, reason: str, until: date) -> tuple[Waiver, ...]:
    """Waive the findings of a rule on the part with this label; return one waiver a finding.

    Raises:
        Refused: no such rule, no such finding, no reason, or an end that has passed.
    """
    if rule not in RULE_BY_ID:
        raise Refused(f"there is no rule {rule!r}", remedy="All rules: doorwright explain")
    today = means.today()
    if until < today:
        raise Refused(f"the end {until} has passed", remedy="Give a day from today on.")
    if not reason.strip():
        raise Refused("a waiver needs a reason", remedy="Say why the finding may stand: --reason TEXT")
    checked = check_book(book_path, means)
    findings = [
        finding
        for finding in checked.assessment.findings
        if finding.rule == rule
        and any(checked.labels[subject].casefold() == part.casefold() for subject in finding.subjects)
    ]
    if not findings:
        raise Refused(
            f"{rule} finds nothing on {part!r}", remedy=f"See what it finds: doorwright check {book_path} --rule {rule}"
        )
    waivers = tuple(
        Waiver(
            id=means.new_id(),
            rule=rule,
            subjects=finding.subjects,
            reason=reason.strip(),
            by=means.who,
            on=today,
            until=until,
        )
        for finding in findings
    )
    with Book.open(book_path) as book:
        for waiver in waivers:
            book.waive(waiver)
    return waivers
