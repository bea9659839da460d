"""Changes of a planned building: choose one, fill in what it asks, see what comes of it, carry it out."""

from dataclasses import dataclass
from typing import Final

from starlette.exceptions import HTTPException

from doorwright.app.change_book import Changed, Issued, change_book
from doorwright.app.vault import has_vault
from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.person import Role
from doorwright.model.walk import Walk
from doorwright.plan.edits.edit import Edit
from doorwright.web.answers import Answer, Go, Page
from doorwright.web.asking import Ask, get, post
from doorwright.web.guides import GUIDE_BY_STEP, GUIDES, Asked, Guide
from doorwright.web.remedies import mistakes_on_page, on_page
from doorwright.web.showing import book_url
from doorwright.web.touches import TouchView, touch_view

OFFERS_MOST: Final = 1500
"""A longer list makes the page slow to open; then names are typed, and the nearest told where one is wrong."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KindView:
    """One kind of change."""

    step: str
    title: str
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldView:
    """One fact that the form asks for, as it was filled in so far."""

    name: str
    label: str
    hint: str
    required: bool
    value: str
    offers: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """What would come of a change: what follows, what is issued, what is wrong, and the work that it makes."""

    message: str
    told: tuple[str, ...]
    issued: tuple[Issued, ...]
    troubles: tuple[tuple[str, str], ...]
    secrets_waiting_count: int
    touch: TouchView
    came: tuple[str, ...]
    went: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class FormView:
    """A change's form; ``outcome`` once it was tried, ``problem`` where it was refused; ``again`` leads back to it."""

    step: str
    title: str
    what: str
    fields: tuple[FieldView, ...]
    has_vault: bool
    needs_vault: bool
    revision: int
    again: str
    outcome: Outcome | None = None
    problem: str = ""
    remedy: str = ""
    mistakes: tuple[Mistake, ...] = ()


def kinds(ask: Ask) -> Answer:
    """Show the kinds of change."""
    del ask
    view = tuple(KindView(step=guide.step, title=guide.title, what=guide.what) for guide in GUIDES)
    return Page(template="changes/kinds.html", title="Changes", view=view)


def form(ask: Ask) -> Answer:
    """Show the form of one kind of change, filled in as far as the address says."""
    guide = _guide(ask)
    return Page(template="changes/form.html", title=guide.title, view=_form(ask, guide))


def make(ask: Ask) -> Answer:
    """Try a change without saving; carry it out where the form says so."""
    guide = _guide(ask)
    really = ask.chosen("really")
    try:
        changed = _carried_out(ask, guide, dry_run=not really)
    except Refused as refused:
        view = _form(
            ask,
            guide,
            problem=refused.message,
            remedy=on_page(refused.remedy),
            mistakes=mistakes_on_page(refused.mistakes),
        )
        return Page(template="changes/form.html", title=guide.title, view=view, status=422)
    if not really:
        return Page(template="changes/form.html", title=guide.title, view=_form(ask, guide, outcome=_outcome(changed)))
    if not changed.saved:
        return Go(book_url(ask.book.name, "changes"), "Nothing differs; nothing was saved.")
    ask.book.changed()
    return Go(
        book_url(ask.book.name, "history", str(changed.revision)), f"Revision {changed.revision}: {changed.message}"
    )


def _guide(ask: Ask) -> Guide:
    guide = GUIDE_BY_STEP.get(ask.path["kind"])
    if guide is None:
        raise HTTPException(404, f"there is no change {ask.path['kind']!r}")
    return guide


def _carried_out(ask: Ask, guide: Guide, *, dry_run: bool) -> Changed:
    given = {asked.name: text for asked in guide.asks if (text := ask.text(asked.name))}
    lacking = [asked for asked in guide.asks if asked.required and asked.name not in given]
    if lacking:
        raise Refused("something is missing", mistakes=tuple(map(_lack, lacking)))

    def edit_of(walk: Walk) -> Edit:
        return guide.edit(walk, ask.means, given)

    passphrase = ask.fields.get("passphrase")
    return change_book(
        ask.book.path,
        edit_of,
        ask.means,
        passphrase=passphrase if isinstance(passphrase, str) and passphrase and not dry_run else None,
        dry_run=dry_run,
        recheck=guide.recheck and dry_run,
    )


def _lack(asked: Asked) -> Mistake:
    return Mistake(where=asked.label, read="", problem="nothing stands there", remedy="Fill it in.")


def _form(
    ask: Ask,
    guide: Guide,
    *,
    outcome: Outcome | None = None,
    problem: str = "",
    remedy: str = "",
    mistakes: tuple[Mistake, ...] = (),
) -> FormView:
    head, walk = ask.book.now()
    typed = {one.name: ask.text(one.name) or None for one in guide.asks}

    def field(asked: Asked) -> FieldView:
        offers = tuple(asked.offers(walk, ask.means)) if asked.offers is not None else ()
        return FieldView(
            name=asked.name,
            label=asked.label,
            hint=asked.hint,
            required=asked.required,
            value=ask.text(asked.name),
            offers=offers if len(offers) <= OFFERS_MOST else (),
        )

    return FormView(
        step=guide.step,
        title=guide.title,
        what=guide.what,
        fields=tuple(map(field, guide.asks)),
        has_vault=has_vault(ask.book.path),
        needs_vault=guide.needs_vault,
        revision=head.number,
        again=book_url(ask.book.name, "changes", guide.step, **typed),
        outcome=outcome,
        problem=problem,
        remedy=remedy,
        mistakes=mistakes,
    )


def _outcome(changed: Changed) -> Outcome:
    rechecked = changed.rechecked
    return Outcome(
        message=changed.message,
        told=changed.told,
        issued=changed.issues,
        troubles=tuple((trouble.problem, trouble.remedy) for trouble in changed.troubles),
        secrets_waiting_count=changed.secrets_waiting_count,
        touch=touch_view(changed.touches),
        came=tuple(finding.message for finding in rechecked.came) if rechecked else (),
        went=tuple(finding.message for finding in rechecked.went) if rechecked else (),
    )


ROUTES: Final = (
    *get("/books/{book}/changes", kinds),
    *get("/books/{book}/changes/{kind}", form, needs=Role.PLAN),
    *post("/books/{book}/changes/{kind}", make, needs=Role.PLAN),
)
