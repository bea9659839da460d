"""Judge a book's site by every rule."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from doorwright.app.means import Means
from doorwright.app.vault import opened_secrets
from doorwright.kernel.observation import Stage, what_counts
from doorwright.kernel.signoff import SignOff, standing
from doorwright.kernel.verdict import Finding, NotChecked, Severity, Subject
from doorwright.model.naming import name_of_subject
from doorwright.model.walk import Walk
from doorwright.rules.catalogue import RULE_BY_ID, RULES
from doorwright.rules.judge import Assessment, judge
from doorwright.rules.rule import Facts
from doorwright.store.book import Book


@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """What the rules say of a revision, the labels of the parts they speak of, and the sign-offs that stand."""

    revision: int
    assessment: Assessment
    labels: Mapping[Subject, str]
    checked_on: date
    sign_offs: tuple[SignOff, ...]

    def worst(self) -> Severity | None:
        """Return the severity of the worst finding, or None where there is none."""
        return max((f.severity for f in self.assessment.findings), key=lambda s: s.rank, default=None)


def check_book(book_path: Path, means: Means, passphrase: str | None = None, *, only: str | None = None) -> Checked:
    """Judge the latest revision, by all rules or one. With the passphrase, the secrets themselves are judged too.

    Raises:
        Refused: the book cannot be read, or the passphrase is wrong.
    """
    with Book.open(book_path, read_only=True) as book:
        walk = Walk(book.site())
        secrets = opened_secrets(book, passphrase) if passphrase is not None else None
        standing_ones = standing(book.sign_offs())
        facts = Facts(
            walk=walk,
            secrets=secrets,
            today=means.today(),
            observations=what_counts(book.observations(), Stage.FOUND),
            sign_offs=standing_ones,
        )
        waivers = book.waivers()
        revision = book.head().number
    rules = RULES if only is None else (RULE_BY_ID[only],)
    assessment = judge(
        facts, rules, waivers, progress=lambda done, count: means.progress(f"checking {done} of {count} parts")
    )
    return Checked(
        revision=revision,
        assessment=assessment,
        labels=_labels(walk, assessment),
        checked_on=facts.today,
        sign_offs=tuple(one for given in standing_ones.values() for one in given.values()),
    )


def _labels(walk: Walk, assessment: Assessment) -> dict[Subject, str]:
    verdicts: tuple[Finding | NotChecked, ...] = (
        *assessment.findings,
        *(finding for finding, _ in assessment.waived),
        *assessment.not_checked,
    )
    return {subject: name_of_subject(walk, subject) for verdict in verdicts for subject in verdict.subjects}
