"""The vault: make it, change its passphrase, see the secrets of one unit for a moment, take out the sealed sheet."""

from dataclasses import dataclass, field
from typing import Final

from doorwright.app.vault import has_vault, owners, reveal, sealed_sheet, set_passphrase
from doorwright.kernel.errors import Refused
from doorwright.kernel.person import Role
from doorwright.kernel.trail import Act, Trace
from doorwright.store.vault import PASSPHRASE_MIN_COUNT
from doorwright.web.answers import Answer, Download, Go, Page
from doorwright.web.asking import Ask, get, post
from doorwright.web.showing import book_url
from doorwright.web.unlocking import passphrase_of

SHOWN_S: Final = 30
OFFERED_MOST: Final = 2_000
"""So many names are offered while one is typed; any other can be typed out."""
TRAIL_MOST: Final = 50
_ACTS: Final = frozenset({Act.VAULT_MADE, Act.PASSPHRASE_CHANGED, Act.SECRETS_SHOWN, Act.SEALED_SHEET})


@dataclass(frozen=True, slots=True, kw_only=True)
class SecretsView:
    """Whether there is a vault, whose secrets are in it, and who did what with it, the latest first."""

    has_vault: bool
    owners_count: int
    owners: tuple[str, ...]
    passphrase_min: int
    trail: tuple[Trace, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SecretLine:
    """One secret, asked for by name."""

    use: str
    line: int
    secret: str = field(repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class RevealedView:
    """The secrets of one owner, and for how many seconds they are shown."""

    owner: str
    shown_s: int
    secrets: tuple[SecretLine, ...]


def page(ask: Ask) -> Answer:
    """Show what can be done with the vault. No secret is on this page."""
    names = owners(ask.book.now()[1])
    noted = [one for one in reversed(ask.book.book.trail()) if one.act in _ACTS]
    view = SecretsView(
        has_vault=ask.book.book.vault() is not None,
        owners_count=len(names),
        owners=names[:OFFERED_MOST],
        passphrase_min=PASSPHRASE_MIN_COUNT,
        trail=tuple(noted[:TRAIL_MOST]),
    )
    return Page(template="handover/secrets.html", title="Secrets", view=view)


def show(ask: Ask) -> Answer:
    """Show the secrets of one unit or switch. They are in this one answer alone."""
    owner = ask.text("owner")
    if not owner:
        raise Refused("no unit was named", remedy="Choose one.")
    revealed = reveal(ask.book.path, owner, passphrase_of(ask), ask.means)
    view = RevealedView(
        owner=revealed[0].owner,
        shown_s=SHOWN_S,
        secrets=tuple(SecretLine(use=one.use, line=one.line, secret=one.secret) for one in revealed),
    )
    return Page(template="handover/revealed.html", title=f"Secrets of {view.owner}", view=view, part="revealed")


def passphrase(ask: Ask) -> Answer:
    """Make the vault, or change its passphrase."""
    new, again = (_secret(ask, name) for name in ("new", "again"))
    if new != again:
        raise Refused("the two new passphrases differ", remedy="Type the same twice.")
    old = passphrase_of(ask, "old") if has_vault(ask.book.path) else None
    made = set_passphrase(ask.book.path, new, ask.means, old=old)
    said = "The vault is made. Keep its passphrase safe." if made else "The passphrase is changed."
    return Go(book_url(ask.book.name, "secrets"), said)


def sheet(ask: Ask) -> Answer:
    """Give out the sealed sheet."""
    pdf = sealed_sheet(ask.book.path, passphrase_of(ask), ask.means)
    return Download(name=f"{ask.book.name} sealed sheet.pdf", media_type="application/pdf", content=pdf)


def _secret(ask: Ask, name: str) -> str:
    value = ask.fields.get(name, "")
    return value if isinstance(value, str) else ""


ROUTES: Final = (
    *get("/books/{book}/secrets", page),
    *post("/books/{book}/secrets/show", show, needs=Role.PLAN),
    *post("/books/{book}/secrets/passphrase", passphrase, needs=Role.PLAN),
    *post("/books/{book}/secrets/sheet", sheet, needs=Role.PLAN),
)
