"""Who may come in over the network: list them, add one, change a role or password, send one away."""

import secrets
from pathlib import Path

from doorwright.kernel.errors import Refused
from doorwright.kernel.person import Person, Role
from doorwright.store.people import People


def list_people(path: Path) -> tuple[Person, ...]:
    """Return everybody in a people file, in the order of joining.

    Raises:
        Refused: the file cannot be read, or is none.
    """
    return tuple(entry.person for entry in People.load(path).entries)


def add_person(path: Path, name: str, role: Role, password: str) -> Person:
    """Add somebody, or give somebody who is there a new role and password. The first one makes the file.

    Raises:
        Refused: the name or password will not do, the first one is no admin, or the file cannot be written.
    """
    people = People.load(path) if path.exists() else People()
    if not people.entries and role is not Role.ADMIN:
        raise Refused("the first person must be an admin: nobody else may change the file", remedy="Give --role admin.")
    people = people.with_person(name, role, password, random_bytes=secrets.token_bytes)
    if not any(entry.role is Role.ADMIN for entry in people.entries):
        raise Refused("nobody with the role admin would be left", remedy="Give that role to somebody else first.")
    people.save(path)
    added = people.find(name)
    if added is None:
        raise LookupError(f"{name!r} was added and is not there")
    return added.person


def change_role(path: Path, name: str, role: Role) -> None:
    """Give somebody another role.

    Raises:
        Refused: nobody has that name, nobody would be left who may change the file, or it cannot be written.
    """
    People.load(path).with_role(name, role).save(path)


def remove_person(path: Path, name: str) -> None:
    """Send somebody away: they may not come in any more.

    Raises:
        Refused: nobody has that name, nobody would be left who may change the file, or it cannot be written.
    """
    People.load(path).without(name).save(path)
