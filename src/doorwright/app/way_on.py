"""The way through a book, in the order of the phases: what is done, and what comes next and why."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from doorwright.app.do_work import Tally
from doorwright.kernel.verdict import Severity
from doorwright.kernel.words import counted
from doorwright.model.walk import Walk
from doorwright.plan.secrets import wanting_secrets
from doorwright.rules.judge import Assessment
from doorwright.store.book import Book

PACK: Final = "site-pack.pdf"


class Step(StrEnum):
    """A step on the way, as it is called."""

    HOMES = "Homes"
    VAULT = "Vault"
    PLAN = "Plan"
    CHECK = "Check"
    PAPERS = "Papers"
    WORK = "Work on site"
    HANDOVER = "Handover"


@dataclass(frozen=True, slots=True, kw_only=True)
class WayOn:
    """The step that comes ``next``, None where none is left, and ``why`` it does. Those before it are done."""

    next: Step | None
    why: str

    def is_done(self, step: Step) -> bool:
        """Say whether a step lies before the next one."""
        return self.next is None or list(Step).index(step) < list(Step).index(self.next)


def way_on(book: Book, walk: Walk, revision: int, assessment: Assessment | None, work: Callable[[], Tally]) -> WayOn:
    """Return what comes next in a book.

    Args:
        book: the book; its vault, its papers and who signed are looked up.
        walk: its newest revision.
        revision: the number of that.
        assessment: what the rules find in it, None while they are still looking.
        work: tells how far the work on site is; it is asked only where everything before it is done.
    """
    for step, why in _open_steps(book, walk, revision, assessment, work):
        if why:
            return WayOn(next=step, why=why)
    return WayOn(next=None, why="Everything on this way is done.")


def _open_steps(
    book: Book, walk: Walk, revision: int, assessment: Assessment | None, work: Callable[[], Tally]
) -> Iterator[tuple[Step, str]]:
    """Yield each step with what keeps it open, empty where nothing does."""
    yield Step.HOMES, "" if walk.site.dwellings else "The book has no homes yet: type them, or import a workbook."
    secrets_count = len(wanting_secrets(walk))
    vault = book.vault()
    yield Step.VAULT, _vault(secrets_count) if vault is None else ""
    yield Step.PLAN, _plan(walk, secrets_count if vault is not None else 0)
    yield Step.CHECK, _check(assessment)
    yield Step.PAPERS, _papers(book, revision)
    tally = work()
    left_count = tally.tasks_count - tally.done_count
    yield Step.WORK, f"{counted(left_count, 'task')} of {tally.tasks_count} left to do." if left_count else ""
    yield Step.HANDOVER, "" if book.sign_offs() else "Nobody has signed yet that anything was tested or received."


def _vault(secrets_count: int) -> str:
    if not secrets_count:
        return ""
    what = f"{counted(secrets_count, 'secret')} of units and switches will be made"
    return f"{what}, and kept in the book's vault. Set its passphrase, then plan."


def _plan(walk: Walk, secrets_count: int) -> str:
    homes_count = sum(dwelling.call_number is None for dwelling in walk.site.dwellings)
    wanting = [counted(homes_count, "call number")] if homes_count else []
    wanting += [counted(secrets_count, "secret")] if secrets_count else []
    return f"{' and '.join(wanting)} still to be issued, and what goes with them." if wanting else ""


def _check(assessment: Assessment | None) -> str:
    if assessment is None:
        return "The rules are still looking at the newest revision."
    errors_count = assessment.by_severity().get(Severity.ERROR, 0)
    return (
        f"{counted(errors_count, 'error')} to correct, or to accept for a while with a reason." if errors_count else ""
    )


def _papers(book: Book, revision: int) -> str:
    made = [one.revision for one in book.artefacts() if one.name == PACK]
    if not made:
        return "The pack for site has not been made yet."
    return "" if max(made) == revision else f"The pack was made of revision {max(made)}; the book has gone on since."
