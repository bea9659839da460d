"""Who may do what, where several people share a server."""

from dataclasses import dataclass
from enum import StrEnum


class Role(StrEnum):
    """What somebody may do; each may do what those before it may.

    ``LOOK`` reads, ``WORK`` records what is done and seen on site, ``PLAN`` changes the book and opens its vault,
    ``ADMIN`` also says who may come in.
    """

    LOOK = "look"
    WORK = "work"
    PLAN = "plan"
    ADMIN = "admin"

    @property
    def rank(self) -> int:
        """0 for looking, 3 for everything."""
        return list(Role).index(self)


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who is signed in, or sits at the machine itself."""

    name: str
    role: Role

    def may(self, needs: Role) -> bool:
        """Say whether this person may do what ``needs`` that role."""
        return self.role.rank >= needs.rank
