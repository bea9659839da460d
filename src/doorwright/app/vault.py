"""The vault of a book: set its passphrase, open it, reveal one secret, write the sealed sheet."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from doorwright.app.means import Means
from doorwright.app.paper import edition_of
from doorwright.kernel.errors import Refused
from doorwright.kernel.trail import Act
from doorwright.model.label import natural_key
from doorwright.model.part import Part
from doorwright.model.unit import SecretMark, SecretUse
from doorwright.model.walk import Walk
from doorwright.render.pdf import sealed_sheet_pdf
from doorwright.store import vault
from doorwright.store.book import Book
from doorwright.store.files import write_whole


@dataclass(frozen=True, slots=True, kw_only=True)
class Revealed:
    """One secret, asked for by name."""

    owner: str
    use: SecretUse
    line: int
    secret: str = field(repr=False)


def set_passphrase(book_path: Path, passphrase: str, means: Means, *, old: str | None = None) -> bool:
    """Set or change the passphrase of a book's vault; say whether the vault is new.

    Raises:
        Refused: the new passphrase is too short, or the old one is missing or wrong.
    """
    with Book.open(book_path) as book:
        sealed = book.vault()
        if sealed is None:
            made, _ = vault.create(passphrase, random_bytes=means.random_bytes)
            book.set_vault_header(made)
            book.note_trail(means.trace(Act.VAULT_MADE))
            return True
        if old is None:
            raise Refused("this book has a vault already", remedy="Give its present passphrase to change it.")
        book.set_vault_header(sealed.unlock(old).change_passphrase(passphrase, random_bytes=means.random_bytes))
        book.note_trail(means.trace(Act.PASSPHRASE_CHANGED))
        return False


def has_vault(book_path: Path) -> bool:
    """Say whether a book has a vault."""
    with Book.open(book_path, read_only=True) as book:
        return book.vault() is not None


def opened_secrets(book: Book, passphrase: str) -> Mapping[str, str]:
    """Return every secret of a book by the identifier of its mark.

    Raises:
        Refused: the book has no vault, or the passphrase is wrong.
    """
    opened = open_vault(book, passphrase)
    return {ident: opened.reveal(ident, sealed) for ident, sealed in book.sealed().items()}


def open_vault(book: Book, passphrase: str) -> vault.OpenVault:
    """Return the open vault of a book.

    Raises:
        Refused: the book has no vault, or the passphrase is wrong.
    """
    sealed = book.vault()
    if sealed is None:
        raise Refused("this book has no vault yet", remedy="Set a passphrase: doorwright vault BOOK passphrase")
    return sealed.unlock(passphrase)


def reveal(book_path: Path, owner: str, passphrase: str, means: Means) -> tuple[Revealed, ...]:
    """Return the secrets of one unit or switch, named by its label, and note in the trail who asked.

    Raises:
        Refused: there is no such owner, or it has no secrets, or the passphrase is wrong, or the book cannot be
            written, so that nobody would know that they were shown.
    """
    with Book.open(book_path) as book:
        walk = Walk(book.site())
        opened = open_vault(book, passphrase)
        entries = book.sealed()
        marks = [mark for mark in walk.all(SecretMark) if _owner(walk, mark).label.casefold() == owner.casefold()]
        if not marks:
            raise Refused(
                f"no secret was issued to anything called {owner!r}", remedy="Names are in: doorwright show BOOK units"
            )
        revealed = tuple(
            Revealed(
                owner=_owner(walk, mark).label,
                use=mark.use,
                line=mark.line,
                secret=opened.reveal(mark.id, entries[mark.id]),
            )
            for mark in sorted(marks, key=lambda mark: (natural_key(_owner(walk, mark).label), mark.line))
        )
        lines = ", ".join(f"line {one.line}" for one in revealed)
        book.note_trail(means.trace(Act.SECRETS_SHOWN, f"{revealed[0].owner} ({lines})"))
    return revealed


def owners(walk: Walk) -> tuple[str, ...]:
    """Return the labels of the units and switches to which secrets were issued."""
    labels = {_owner(walk, mark).label for mark in walk.all(SecretMark)}
    return tuple(sorted(labels, key=natural_key))


def write_sealed_sheet(book_path: Path, out: Path, passphrase: str, means: Means) -> Path:
    """Write the sealed sheet: the one paper that holds secrets.

    Raises:
        Refused: there is a file of that name already, the passphrase is wrong, or the book cannot be written.
    """
    if out.exists():
        raise Refused(f"{out} is there already", remedy="Choose another name, or move that file away.")
    write_whole(out, sealed_sheet(book_path, passphrase, means), private=True)
    return out


def sealed_sheet(book_path: Path, passphrase: str, means: Means) -> bytes:
    """Return the sealed sheet as a PDF, and note in the trail who took it.

    Raises:
        Refused: the passphrase is wrong, or the book cannot be written.
    """
    with Book.open(book_path) as book:
        secrets = opened_secrets(book, passphrase)
        means.progress("writing the sealed sheet")
        head = book.head()
        pdf = sealed_sheet_pdf(walk=Walk(book.site()), secrets=secrets, edition=edition_of(head))
        book.note_trail(means.trace(Act.SEALED_SHEET, f"revision {head.number}"))
    return pdf


def _owner(walk: Walk, mark: SecretMark) -> Part:
    owner = walk.part(mark.owner)
    if owner is None:
        raise LookupError(f"secret {mark.id} belongs to no part of the site")
    return owner
