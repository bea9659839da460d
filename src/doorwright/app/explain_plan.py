"""Tell why parts of a site cannot be planned: the fewest causes of each conflict, and what would help."""

from dataclasses import dataclass
from pathlib import Path

from doorwright.model.naming import named
from doorwright.model.walk import Walk
from doorwright.plan.groups import plan_groups
from doorwright.plan.numbering.planner import explain_numbers
from doorwright.store.book import Book


@dataclass(frozen=True, slots=True, kw_only=True)
class Help:
    """Something that would help, whether it was tried and is enough, and how many digits numbers then have."""

    words: str
    digits_count: int | None
    fits: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Why:
    """One thing that cannot be planned: for whom, its causes (each is needed), and what would help."""

    problem: str
    parts: tuple[str, ...]
    causes: tuple[str, ...]
    proven: bool
    helps: tuple[Help, ...]
    remedy: str


def explain_plan(book_path: Path) -> tuple[Why, ...]:
    """Return what cannot be planned in a book's newest revision; nothing is changed."""
    with Book.open(book_path) as book:
        walk = Walk(book.site(book.head().number))
    numbers = [
        Why(
            problem=one.problem,
            parts=tuple(named(walk, dwelling) for dwelling in one.conflict.stuck),
            causes=one.causes,
            proven=one.conflict.proven,
            helps=tuple(Help(words=r.words, digits_count=r.digits_count, fits=r.fits) for r in one.remedies),
            remedy="",
        )
        for one in explain_numbers(walk)
    ]
    groups = [
        Why(
            problem=trouble.problem,
            parts=tuple(named(walk, part) for subject in trouble.subjects if (part := walk.part(subject.id))),
            causes=(),
            proven=False,
            helps=(),
            remedy=trouble.remedy,
        )
        for trouble in plan_groups(walk).troubles
    ]
    return (*numbers, *groups)
