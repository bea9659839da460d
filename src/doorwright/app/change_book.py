"""Carry out one edit of a book: make it, let the planners issue what is missing, save it all as one revision."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final, TypeAlias

from doorwright.app.means import Means
from doorwright.app.paper import write_paper
from doorwright.app.recheck import Rechecked, recheck_sites
from doorwright.app.vault import open_vault
from doorwright.kernel.errors import Refused
from doorwright.model.change import apply, diff
from doorwright.model.naming import name_of_subject
from doorwright.model.site import PART_BY_KIND
from doorwright.model.unit import Key, KeyModule, SecretMark, Unit
from doorwright.model.walk import Walk
from doorwright.plan.draft import Issue, Trouble
from doorwright.plan.edits.edit import Edit, left_without_registrar
from doorwright.plan.plan import Plan, plan_site
from doorwright.plan.touch import Touch, touch_list
from doorwright.render.pdf import Edition
from doorwright.render.pdf.touch import touch_list_pdf
from doorwright.store.book import Book
from doorwright.store.vault import OpenVault

EditMaker: TypeAlias = Callable[[Walk], Edit]
"""Makes the edit of a site as it stands, or refuses to."""

PAPER: Final = "touch-list.pdf"


@dataclass(frozen=True, slots=True, kw_only=True)
class Issued:
    """Something issued with a change, in words: to which part, what, and why."""

    part: str
    what: str
    value: str
    why: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Changed:
    """What an edit gave: the revision that now stands, what follows, what is wrong, and the work that it makes.

    ``rechecked`` is there where the rules were asked what they say otherwise now.
    """

    revision: int
    saved: bool
    message: str
    told: tuple[str, ...]
    issues: tuple[Issued, ...]
    troubles: tuple[Trouble, ...]
    secrets_waiting_count: int
    touches: tuple[Touch, ...]
    files: tuple[Path, ...]
    rechecked: Rechecked | None = None


def change_book(
    book_path: Path,
    edit_of: EditMaker,
    means: Means,
    *,
    passphrase: str | None = None,
    dry_run: bool = False,
    out: Path | None = None,
    recheck: bool = False,
) -> Changed:
    """Make one edit, plan what it leaves to be issued, and save both as one revision.

    A dry run saves nothing. Without a passphrase no secrets are made, and the result says how many wait. With ``out``
    the touch list is written into that folder and noted in the book; with ``recheck`` the rules judge the site before
    and after.

    Raises:
        Refused: the edit is refused, the passphrase is wrong, or somebody saved in between; nothing is changed.
    """
    with Book.open(book_path, read_only=dry_run) as book:
        parent = book.head().number
        before = Walk(book.site(parent))
        means.progress("making the change")
        edit = edit_of(before)
        opened = open_vault(book, passphrase) if passphrase is not None and not dry_run else None
        # the secrets of a dry run are thrown away: they only show on which lines new ones would stand
        makes_secrets = opened is not None or (dry_run and book.vault() is not None)
        plan = plan_site(
            apply(before.site, edit.changes),
            new_id=means.new_id,
            choose=means.choose if makes_secrets else None,
            progress=lambda step: means.progress(f"planning {step}"),
        )
        after = Walk(plan.site)
        touches = touch_list(before, after, diff(before.site, after.site))
        rechecked = recheck_sites(book, before, after, means) if recheck else None
        at = means.now()
        paper = None
        if out is not None and touches and not dry_run:
            means.progress("setting the touch list")
            edition = Edition(revision=parent + 1, made_at=at, made_by=means.who, message=edit.message)
            paper = touch_list_pdf(after=after, touches=touches, since=parent, reason=edit.message, edition=edition)
        if not dry_run:
            means.progress("saving")
            sealed = _sealed(plan, opened, means)
            saved = book.save(after.site, parent=parent, by=means.who, at=at, message=edit.message, sealed=sealed)
        revision = parent if dry_run else saved.number
        files = _written(book, book_path, out, paper, since=parent, revision=revision, at=at)
    return Changed(
        revision=revision,
        saved=revision != parent,
        message=edit.message,
        told=edit.told,
        issues=tuple(_in_words(after, issue) for issue in plan.issues),
        troubles=(*edit.troubles, *plan.troubles, *left_without_registrar(edit, after, plan.troubles)),
        secrets_waiting_count=plan.secrets_waiting_count,
        touches=touches,
        files=files,
        rechecked=rechecked,
    )


def _in_words(after: Walk, issue: Issue) -> Issued:
    named = after.part(issue.value)
    value = named.label if named else issue.value
    part = after.find(PART_BY_KIND[issue.subject.kind], issue.subject.id)
    owner = None
    if isinstance(part, SecretMark):
        owner = after.part(part.owner)
    elif isinstance(part, Key | KeyModule):
        owner = after.find(Unit, part.unit)
    name = owner.label if owner is not None else name_of_subject(after, issue.subject)
    return Issued(part=name, what=issue.what, value=value, why=issue.why)


def _sealed(plan: Plan, opened: OpenVault | None, means: Means) -> Mapping[str, bytes]:
    if opened is None:
        return {}
    return {
        ident: opened.seal(ident, secret, random_bytes=means.random_bytes) for ident, secret in plan.secrets.items()
    }


def _written(
    book: Book, book_path: Path, out: Path | None, paper: bytes | None, *, since: int, revision: int, at: datetime
) -> tuple[Path, ...]:
    if out is None or paper is None:
        return ()
    try:
        write_paper(book, out / PAPER, paper, revision=revision, at=at)
        return (out / PAPER,)
    except Refused as refused:
        raise Refused(
            f"revision {revision} is saved, but its touch list is not written: {refused.message}",
            remedy=f"Print it elsewhere: doorwright diff {book_path} {since} {revision} --touch --out FILE.pdf",
        ) from refused
