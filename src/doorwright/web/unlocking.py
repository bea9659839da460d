"""Passphrases that come over the web: guessing is slowed down, whatever page takes them."""

import math
from typing import Final

from starlette.exceptions import HTTPException

from doorwright.app.vault import open_vault
from doorwright.kernel.errors import Refused
from doorwright.kernel.words import counted
from doorwright.web.asking import Ask

_TOO_MANY: Final = 429  # RFC 6585 §4


def passphrase_of(ask: Ask, field: str = "passphrase") -> str:
    """Return the passphrase of a form, known to open the book's vault.

    Raises:
        Refused: there is no vault, or the passphrase does not open it.
        HTTPException: too many wrong ones came from this person; it says how long to wait.
    """
    value = ask.fields.get(field, "")
    passphrase = value if isinstance(value, str) else ""
    if not passphrase:
        raise Refused("no passphrase was given", remedy="Give that of the vault.")
    if ask.book.book.vault() is None:
        raise Refused("this book has no vault yet", remedy="Make it first, on this page.")
    wait_s = ask.book.wait_s(ask.person.name, at_s=ask.means.now().timestamp())
    if wait_s > 0:
        seconds = math.ceil(wait_s)
        detail = f"too many wrong passphrases; wait {counted(seconds, 'second')}, then try again"
        raise HTTPException(_TOO_MANY, detail, headers={"Retry-After": f"{seconds}"})
    open_vault(ask.book.book, passphrase)
    ask.book.opened_by(ask.person.name)
    return passphrase
