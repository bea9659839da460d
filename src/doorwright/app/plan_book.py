"""Plan whatever a book's site still lacks, and save the result as a revision; or tell beforehand what that would be."""

from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from doorwright.app.means import Means
from doorwright.app.vault import open_vault
from doorwright.model.site import Site
from doorwright.model.walk import Walk
from doorwright.plan.draft import Issue, Trouble
from doorwright.plan.plan import plan_site
from doorwright.store.book import Book


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """What planning gave: the revision that now stands, what was issued and why, what could not be planned."""

    revision: int
    issued: dict[str, int]
    issues: tuple[Issue, ...]
    troubles: tuple[Trouble, ...]
    secrets_waiting_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Foreseen:
    """What planning would issue, and the site as it would then be; secrets are only counted."""

    walk: Walk
    issued: dict[str, int]
    issues: tuple[Issue, ...]
    troubles: tuple[Trouble, ...]
    secrets_waiting_count: int


def foresee(site: Site, means: Means) -> Foreseen:
    """Return what planning a site would issue; nothing is saved."""
    plan = plan_site(site, new_id=means.new_id, choose=None, progress=lambda step: means.progress(f"planning {step}"))
    return Foreseen(
        walk=Walk(plan.site),
        issued=dict(Counter(issue.what for issue in plan.issues)),
        issues=plan.issues,
        troubles=plan.troubles,
        secrets_waiting_count=plan.secrets_waiting_count,
    )


def plan_book(book_path: Path, means: Means, passphrase: str | None = None) -> Planned:
    """Plan and save. Without a passphrase no secrets are made, and the result says how many wait.

    Raises:
        Refused: the passphrase is wrong, or somebody saved in between; nothing is changed.
    """
    with Book.open(book_path) as book:
        opened = open_vault(book, passphrase) if passphrase is not None else None
        parent = book.head().number
        plan = plan_site(
            book.site(parent),
            new_id=means.new_id,
            choose=means.choose if opened is not None else None,
            progress=lambda step: means.progress(f"planning {step}"),
        )
        means.progress("saving")
        sealed = {}
        if opened is not None:
            sealed = {
                ident: opened.seal(ident, secret, random_bytes=means.random_bytes)
                for ident, secret in plan.secrets.items()
            }
        head = book.save(plan.site, parent=parent, by=means.who, at=means.now(), message="plan", sealed=sealed)
    return Planned(
        revision=head.number,
        issued=dict(Counter(issue.what for issue in plan.issues)),
        issues=plan.issues,
        troubles=plan.troubles,
        secrets_waiting_count=plan.secrets_waiting_count,
    )
