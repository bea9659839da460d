"""Who may come in: for admins."""

from dataclasses import dataclass
from typing import Final

from starlette.exceptions import HTTPException

from doorwright.app.people import add_person, change_role, list_people, remove_person
from doorwright.kernel.errors import Refused
from doorwright.kernel.person import Person, Role
from doorwright.web.answers import Answer, Go, Page
from doorwright.web.asking import Ask, get, post
from doorwright.web.gate import Gate


@dataclass(frozen=True, slots=True, kw_only=True)
class PeopleView:
    """Everybody, and the roles there are with what each may do."""

    people: tuple[Person, ...]
    roles: dict[str, str]


ROLES: Final = {
    Role.LOOK.value: "reads everything but secrets",
    Role.WORK.value: "also records what is done and seen on site",
    Role.PLAN.value: "also changes books and opens their vaults with the passphrase",
    Role.ADMIN.value: "also says who may come in",
}


def page(ask: Ask) -> Answer:
    """Show everybody."""
    view = PeopleView(people=list_people(_gate(ask).people_file), roles=ROLES)
    return Page(template="people.html", title="People", view=view)


def add(ask: Ask) -> Answer:
    """Add somebody, or give them a new password and role."""
    gate, name, role = _gate(ask), ask.text("name"), _role(ask)
    password = ask.fields.get("password", "")
    person = add_person(gate.people_file, name, role, password if isinstance(password, str) else "")
    gate.sign_out_everywhere(person.name)
    gate.note(ask.person.name, f"gave a password and the role {role.value}", person.name)
    return Go("/people", f"{person.name} may come in with the role {role.value}.")


def change(ask: Ask) -> Answer:
    """Give somebody another role."""
    gate, name, role = _gate(ask), ask.text("name"), _role(ask)
    change_role(gate.people_file, name, role)
    gate.note(ask.person.name, f"gave the role {role.value}", name)
    return Go("/people", f"{name} has the role {role.value} now.")


def remove(ask: Ask) -> Answer:
    """Send somebody away."""
    gate, name = _gate(ask), ask.text("name")
    remove_person(gate.people_file, name)
    gate.sign_out_everywhere(name)
    gate.note(ask.person.name, "removed", name)
    return Go("/people", f"{name} may not come in any more.")


def _gate(ask: Ask) -> Gate:
    if ask.gate is None:
        raise HTTPException(404, "nobody comes in here over the network: only this machine reaches this server")
    return ask.gate


def _role(ask: Ask) -> Role:
    text = ask.text("role")
    if text not in set(Role):
        raise Refused(f"there is no role {text!r}", remedy=f"Roles: {', '.join(Role)}.")
    return Role(text)


ROUTES: Final = (
    *get("/people", page, needs=Role.ADMIN),
    *post("/people/add", add, needs=Role.ADMIN),
    *post("/people/role", change, needs=Role.ADMIN),
    *post("/people/remove", remove, needs=Role.ADMIN),
)
