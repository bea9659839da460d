"""Who registers with a SIP server under which user, how calls to that user ring, and the hashes that prove units."""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from doorwright.model.calling import RingMode
from doorwright.model.label import natural_key
from doorwright.model.naming import named
from doorwright.model.network import SipServer
from doorwright.model.place import Dwelling
from doorwright.model.sip_user import sip_user_of
from doorwright.model.unit import SecretUse, Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.pairing import mark_of
from doorwright.render.services.spelling import is_number, note
from doorwright.sip.digest import normal

DIGESTS: Final[Mapping[str, str]] = {"MD5": "md5", "SHA-256": "sha256"}
"""Digest algorithms (RFC 7616 §3.3, RFC 8760) that the SIP server's program computes, and their names in hashlib.

MD5 stands first for every unit knows it (RFC 3261 §22.4); where all units know SHA-256, that is the one to take.
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Account:
    """One SIP user, with the units that register under it in ringing order: several receivers of a dwelling share one.

    ``turns`` says whether they ring in turn, ``ring_s`` how long together or each.
    """

    user: str
    label: str
    units: tuple[Unit, ...]
    is_dwelling: bool
    turns: bool
    ring_s: int


def accounts_of(walk: Walk, server: SipServer) -> tuple[tuple[Account, ...], tuple[str, ...]]:
    """Return the accounts of a server in order of user, and remarks on units that get none."""
    units_by_user: dict[str, list[Unit]] = {}
    remarks: list[str] = []
    for unit in sorted(walk.units_registered_with(server.id), key=lambda one: (natural_key(one.name), one.id)):
        number = sip_user_of(walk, unit)
        if number is None:
            remarks.append(f"No SIP user for {_named(walk, unit)}: it has no call number")
        elif not is_number(number):
            remarks.append(f"No SIP user for {_named(walk, unit)}: its call number {note(number)!r} has other signs")
        else:
            units_by_user.setdefault(number.lower(), []).append(unit)  # the server's program compares users so
    accounts = []
    for units in units_by_user.values():
        dwellings = {unit.dwelling for unit in units}
        user = sip_user_of(walk, units[0]) or ""
        if len(units) > 1 and (len(dwellings) > 1 or None in dwellings):
            names = ", ".join(_named(walk, unit) for unit in units)
            remarks.append(f"No SIP user {user}: several parts have this call number: {names}")
        else:
            accounts.append(_account(walk, user, units))
    return tuple(sorted(accounts, key=lambda one: (natural_key(one.user), one.user))), tuple(remarks)


def _account(walk: Walk, user: str, units: list[Unit]) -> Account:
    choices = walk.settings().choices
    dwelling = walk.find(Dwelling, units[0].dwelling) if units[0].kind is UnitKind.URU else None
    mode = (dwelling.ring_mode if dwelling else None) or choices.ring_mode
    own_s = dwelling.ring_s if dwelling else None
    ringing = sorted(units, key=lambda one: (one.position is None, one.position or 0, natural_key(one.name), one.id))
    return Account(
        user=user,
        label="; ".join(_named(walk, unit) for unit in ringing),
        units=tuple(ringing),
        is_dwelling=dwelling is not None,
        turns=mode is RingMode.IN_TURN and len(ringing) > 1,
        ring_s=choices.ring_s if own_s is None else own_s,
    )


def hashes_of(
    walk: Walk, account: Account, secrets: Mapping[str, str], *, realm: str, digest: str
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return the hashes that prove an account's units, in ringing order, and remarks on units without a secret.

    Args:
        walk: the way around the site.
        account: whose units.
        secrets: every secret by the identifier of its mark.
        realm: the server's.
        digest: one of ``DIGESTS``.
    """
    found: list[str] = []
    remarks: list[str] = []
    for unit in account.units:
        mark = mark_of(walk, unit, SecretUse.SIP)
        secret = secrets.get(mark.id) if mark is not None else None
        if secret is None:
            remarks.append(f"No hash for {_named(walk, unit)}: it has no SIP secret")
        else:
            found.append(hash_of(account.user, realm, secret, digest))
    return tuple(dict.fromkeys(found)), tuple(remarks)


def hash_of(user: str, realm: str, secret: str, digest: str) -> str:
    """Return H(user ":" realm ":" secret), the only form in which a server needs a secret (RFC 7616 §3.4.2, A1).

    It is as good as the secret to whoever wants to register under that user in that realm.
    """
    octets = f"{normal(user)}:{realm}:{normal(secret)}".encode()
    return hashlib.new(DIGESTS[digest], octets, usedforsecurity=False).hexdigest()


def _named(walk: Walk, unit: Unit) -> str:
    return note(named(walk, unit))
