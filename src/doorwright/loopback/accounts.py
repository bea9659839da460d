"""With which names and secrets units register: changed at both ends where a real server or a real vault says so."""

import csv
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from io import StringIO
from typing import Final

from doorwright.loopback.moving_in import Tenant
from doorwright.rehearse.box import Admitted, Box

_HEADINGS: Final = ("unit", "registers at", "SIP port", "user", "secret", "its own place", "its SIP port")


def with_users(boxes: Mapping[str, Box], users: Mapping[str, str]) -> dict[str, Box]:
    """Return the boxes with other user names: what a box is called as is what it answers, too.

    Args:
        boxes: by the identifier of their part.
        users: the new names, by the identifier of the unit.
    """
    altered = dict(boxes)
    for ident, user in users.items():
        box = altered[ident]
        if box.registers is not None:
            ringing = {user if number == box.user else number: stages for number, stages in box.ringing.items()}
            registers = replace(box.registers, user=user)
            altered[ident] = replace(box, user=user, registers=registers, ringing=ringing)
    return {ident: replace(box, admits=tuple(_renamed(box.admits, users))) for ident, box in altered.items()}


def with_secrets(boxes: Mapping[str, Box], secrets: Mapping[str, str]) -> dict[str, Box]:
    """Return the boxes with other secrets, at both ends alike.

    Args:
        boxes: by the identifier of their part.
        secrets: the new secrets, by the identifier of the unit.
    """

    def entered(box: Box) -> Box:
        registers = box.registers
        if registers is not None and box.id in secrets:
            registers = replace(registers, secret=secrets[box.id])
        admits = tuple(replace(one, secret=secrets.get(one.unit, one.secret)) for one in box.admits)
        return replace(box, registers=registers, admits=admits)

    return {ident: entered(box) for ident, box in boxes.items()}


def accounts_table(tenants: Sequence[Tenant]) -> str:
    """Return what to enter in a real phone that is to stand for a unit, a line for each unit, as CSV (RFC 4180).

    It holds secrets.
    """
    text = StringIO()
    table = csv.writer(text)
    table.writerow(_HEADINGS)
    for box in (tenant.box for tenant in tenants):
        at = box.registers
        if at is not None:
            table.writerow((box.name, at.address, at.port, at.user, at.secret, box.jack.address, box.sip_port))
    return text.getvalue()


def _renamed(admits: tuple[Admitted, ...], users: Mapping[str, str]) -> Iterator[Admitted]:
    for one in admits:
        yield replace(one, user=users.get(one.unit, one.user))
