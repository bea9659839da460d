"""Ask the rules what they say otherwise of a site after a change."""

from dataclasses import dataclass

from doorwright.app.means import Means
from doorwright.kernel.observation import Stage, what_counts
from doorwright.kernel.signoff import standing
from doorwright.kernel.verdict import Finding, NotChecked
from doorwright.model.walk import Walk
from doorwright.rules.catalogue import RULES
from doorwright.rules.judge import Assessment, judge
from doorwright.rules.rule import Facts
from doorwright.store.book import Book


@dataclass(frozen=True, slots=True, kw_only=True)
class Rechecked:
    """What the rules find now and did not before, what they no longer find, and the same of what cannot be checked.

    The messages of the rules name the parts. Secrets themselves are not judged here.
    """

    came: tuple[Finding, ...]
    went: tuple[Finding, ...]
    no_longer_checked: tuple[NotChecked, ...]
    checked_now: tuple[NotChecked, ...]


def recheck_sites(book: Book, before: Walk, after: Walk, means: Means) -> Rechecked:
    """Judge two sites of a book by every rule, waivers and sign-offs as they stand, and return what differs."""
    old, new = (_judged(book, walk, means) for walk in (before, after))
    return Rechecked(
        came=tuple(finding for finding in new.findings if finding not in set(old.findings)),
        went=tuple(finding for finding in old.findings if finding not in set(new.findings)),
        no_longer_checked=tuple(one for one in new.not_checked if one not in set(old.not_checked)),
        checked_now=tuple(one for one in old.not_checked if one not in set(new.not_checked)),
    )


def _judged(book: Book, walk: Walk, means: Means) -> Assessment:
    facts = Facts(
        walk=walk,
        secrets=None,
        today=means.today(),
        observations=what_counts(book.observations(), Stage.FOUND),
        sign_offs=standing(book.sign_offs()),
    )
    return judge(
        facts, RULES, book.waivers(), progress=lambda done, count: means.progress(f"checking {done} of {count} parts")
    )
