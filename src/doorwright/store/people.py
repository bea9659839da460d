"""The people file: who may come in over the network, in which role, and what their passwords are checked against.

Passwords themselves are kept nowhere: each is an Argon2id hash in PHC string form (RFC 9106).
"""

import json
import os
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any, Final, Self

from cryptography.exceptions import InvalidKey
from cryptography.hazmat.primitives.kdf.argon2 import Argon2id

from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.person import Person, Role
from doorwright.store.files import write_whole
from doorwright.store.vault import PASSPHRASE_MIN_COUNT, RECOMMENDED, Parameters

FORM: Final = 1
NAME_MOST_COUNT: Final = 60
PASSWORD_MOST_COUNT: Final = 256
"""Longer ones are refused before any work is done for them (NIST SP 800-63B-4 §3.1.1.2 asks to take at least 64)."""

_SALT_BYTES: Final = 16  # 128 bit: RFC 9106 §4
_HASH_BYTES: Final = 32


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One person of the file."""

    name: str
    role: Role
    hashed: str

    @property
    def person(self) -> Person:
        """The person as the web application knows them."""
        return Person(self.name, self.role)


@dataclass(frozen=True, slots=True)
class People:
    """Everybody in a people file, in the order of joining. A value: who is added or removed makes a new one."""

    entries: tuple[Entry, ...] = ()

    @classmethod
    def load(cls, path: Path) -> Self:
        """Return the people of a file.

        Raises:
            Refused: it is not there, or is no people file; every mistake is told.
        """
        try:
            read = json.loads(path.read_text(encoding="utf-8"))
        except OSError as error:
            raise Refused(
                f"{path} cannot be read: {error.strerror or error}",
                remedy=f"Make it: doorwright people {path} add NAME --role admin",
            ) from error
        except ValueError as error:
            raise Refused(f"{path} is no people file", remedy="Restore it from a copy, or make a new one.") from error
        if not isinstance(read, dict) or read.get("form") != FORM or not isinstance(read.get("people"), list):
            raise Refused(f"{path} is no people file of this Doorwright", remedy="Restore it from a copy.")
        mistakes: list[Mistake] = []
        entries = [_entry(one, number, mistakes) for number, one in enumerate(read["people"], start=1)]
        if mistakes:
            raise Refused(f"{path} is damaged", remedy="Restore it from a copy.", mistakes=tuple(mistakes))
        return cls(tuple(entry for entry in entries if entry is not None))

    def save(self, path: Path) -> None:
        """Write the file, for its owner's eyes alone.

        Raises:
            Refused: it cannot be written.
        """
        people = [{"name": one.name, "role": one.role.value, "password": one.hashed} for one in self.entries]
        text = json.dumps({"form": FORM, "people": people}, indent=1, ensure_ascii=False) + "\n"
        write_whole(path, text.encode(), private=True)

    def find(self, name: str) -> Entry | None:
        """Return the entry of a name, however its letters are written."""
        wanted = _folded(name)
        return next((entry for entry in self.entries if _folded(entry.name) == wanted), None)

    def with_person(
        self,
        name: str,
        role: Role,
        password: str,
        *,
        random_bytes: Callable[[int], bytes],
        cost: Parameters = RECOMMENDED,
    ) -> "People":
        """Return the people with one more, or with a new role and password for one who is there.

        Raises:
            Refused: the name or the password will not do; both are told at once.
        """
        plain = unicodedata.normalize("NFC", name).strip()
        mistakes = []
        if not plain or len(plain) > NAME_MOST_COUNT or not plain.isprintable():
            problem = f"a name has 1 to {NAME_MOST_COUNT} printable characters"
            mistakes.append(Mistake(where="name", read=name[:NAME_MOST_COUNT], problem=problem, remedy="Shorten it."))
        if not PASSPHRASE_MIN_COUNT <= len(password) <= PASSWORD_MOST_COUNT:
            problem = f"a password has {PASSPHRASE_MIN_COUNT} to {PASSWORD_MOST_COUNT} characters"
            mistakes.append(
                Mistake(where="password", read="", problem=problem, remedy="Take several words; blanks count too.")
            )
        if mistakes:
            raise Refused("nobody was added", remedy="Correct this and try again.", mistakes=tuple(mistakes))
        known = self.find(plain)
        entry = Entry(
            name=known.name if known else plain, role=role, hashed=_hashed(password, random_bytes(_SALT_BYTES), cost)
        )
        if known is None:
            return People((*self.entries, entry))
        return People(tuple(entry if one is known else one for one in self.entries))

    def with_role(self, name: str, role: Role) -> "People":
        """Return the people with another role for one of them.

        Raises:
            Refused: nobody has that name, or nobody would be left who may change the file.
        """
        known = self._known(name)
        return self._led(tuple(replace(one, role=role) if one is known else one for one in self.entries))

    def without(self, name: str) -> "People":
        """Return the people without one of them.

        Raises:
            Refused: nobody has that name, or nobody would be left who may change the file.
        """
        known = self._known(name)
        return self._led(tuple(one for one in self.entries if one is not known))

    def _known(self, name: str) -> Entry:
        known = self.find(name)
        if known is None:
            names = ", ".join(entry.name for entry in self.entries) or "nobody"
            raise Refused(f"nobody is called {name!r}", remedy=f"There are: {names}.")
        return known

    def _led(self, entries: tuple[Entry, ...]) -> "People":
        if not any(entry.role is Role.ADMIN for entry in entries):
            raise Refused("nobody with the role admin would be left", remedy="Give that role to somebody else first.")
        return People(entries)

    def admit(self, name: str, password: str) -> Person | None:
        """Return the person whose name and password these are, or None. It takes as long for a name that nobody has."""
        entry = self.find(name)
        hashed = entry.hashed if entry is not None else _nobodys()
        try:
            Argon2id.verify_phc_encoded(_prepared(password[:PASSWORD_MOST_COUNT]), hashed)
        except InvalidKey:
            return None
        return entry.person if entry is not None else None


def _hashed(password: str, salt: bytes, cost: Parameters) -> str:
    made: str = Argon2id(
        salt=salt,
        length=_HASH_BYTES,
        iterations=cost.passes_count,
        lanes=cost.lanes_count,
        memory_cost=cost.memory_kib,
    ).derive_phc_encoded(_prepared(password))
    return made


def _prepared(password: str) -> bytes:
    return unicodedata.normalize("NFKC", password).encode()  # NIST SP 800-63B-4 §3.1.1.2: one form before hashing


def _folded(name: str) -> str:
    return unicodedata.normalize("NFC", name).strip().casefold()


def _entry(read: Any, number: int, mistakes: list[Mistake]) -> Entry | None:
    fits = isinstance(read, dict) and all(isinstance(read.get(key), str) for key in ("name", "role", "password"))
    if not fits or read["role"] not in set(Role) or not read["password"].startswith("$argon2id$"):
        shown = read.get("name", "") if isinstance(read, dict) else ""
        mistakes.append(
            Mistake(
                where=f"person {number}",
                read=f"{shown}",
                problem="name, role or password is missing or damaged",
                remedy="Remove this entry, then add the person again.",
            )
        )
        return None
    return Entry(name=read["name"], role=Role(read["role"]), hashed=read["password"])


@cache
def _nobodys() -> str:
    """Return what is checked where nobody has the name asked for, so that the time tells nothing."""
    return _hashed(os.urandom(_SALT_BYTES).hex(), os.urandom(_SALT_BYTES), RECOMMENDED)
