"""A configuration for the SIP server Kamailio: registrar with digest, forking to a dwelling's receivers, diverts.

Registrations and tables live in memory; no database is asked for. The form of the file is ``kamailio.cfg`` beside this
module; its places are filled in one pass, so that nothing filled in is read as a place again. The hashes stand in a
file of their own, which the configuration includes and does not start without.
"""

import re
from collections.abc import Iterator, Mapping
from functools import cache
from importlib.resources import files
from typing import Final

from doorwright.kernel.words import counted
from doorwright.model.calling import Divert, Timetable, TimetablePurpose
from doorwright.model.label import natural_key
from doorwright.model.network import SipServer
from doorwright.model.place import Entrance
from doorwright.model.ranges import address_of
from doorwright.model.unit import UnitKind
from doorwright.model.walk import Walk
from doorwright.paths.follow import DIVERTS_MOST
from doorwright.plan.hours import holders_of_divert
from doorwright.render.services.accounts import Account, accounts_of, hashes_of
from doorwright.render.services.sent_on import divert_routes
from doorwright.render.services.served import NOTHING_SERVED, Served, ServerFile
from doorwright.render.services.spelling import host_label, is_host_name, is_realm, note, notes, unlike

NAME: Final = "kamailio.cfg"
SECRETS_NAME: Final = "kamailio-secrets.cfg"
EXPIRES_S: Final = 300
"""How long a registration holds. Common practice: short enough that a restarted server soon knows all units again."""

_PLACE: Final = re.compile(r"@@([A-Z]+)@@")


def kamailio_files(walk: Walk, title: str, *, digest: str, secrets: Mapping[str, str] | None = None) -> Served:
    """Return a folder for each SIP server: its configuration, and with ``secrets`` its private file of hashes.

    Args:
        walk: the way around the site.
        title: what the files say of themselves.
        digest: one of ``DIGESTS``.
        secrets: every secret by the identifier of its mark; without it the private files are not written.
    """
    served, used = NOTHING_SERVED, set[str]()
    servers = sorted(walk.all(SipServer), key=lambda one: (natural_key(one.name), one.id))
    for server in servers:
        fault = _fault(server)
        if fault:
            served += Served(remarks=(f"No SIP files for {note(server.name)}: {fault}",))
        else:
            folder = unlike(f"sip-{host_label(server.name, 'server')}", used)
            served += _server_files(walk, server, folder=folder, title=title, digest=digest, secrets=secrets)
    if not servers:
        served += Served(remarks=("No SIP files: the site has no SIP server; its units register with each other",))
    return served


def _fault(server: SipServer) -> str:
    if address_of(server.address or "") is None:
        return "it has no address"
    if not 0 < server.port < 65536:
        return "its port is none"
    if not server.realm:
        return "it has no realm"
    return "" if is_realm(server.realm) else "its realm has other signs than letters, digits, space and ._@-"


def _server_files(
    walk: Walk, server: SipServer, *, folder: str, title: str, digest: str, secrets: Mapping[str, str] | None
) -> Served:
    accounts, remarks = accounts_of(walk, server)
    by_user = {account.user: account for account in accounts}
    numbers = _entrances(walk, accounts)
    routes, more = divert_routes(walk, server, by_user, numbers)
    remarks += more + tuple(_practical(walk, server, accounts))
    realm = server.realm or ""
    places = {
        "HEAD": notes([title, f"{server.name}: SIP registrar and proxy for {len(accounts)} numbers.", *remarks]),
        "ADDRESS": str(server.address),
        "PORT": str(server.port),
        "ALIAS": f'alias="{realm}"\n' if is_host_name(realm) else "",
        "EXPIRES": str(EXPIRES_S),
        "DIGEST": digest,
        "SECRETS": SECRETS_NAME,
        "REALM": realm,
        "HOST": str(server.address),
        "MOST": str(DIVERTS_MOST),
        "DIVERTS": routes,
        "TABLES": "\n".join(_tables(walk, accounts, numbers)),
    }
    text = _PLACE.sub(lambda found: places[found[1]], _form())
    made = Served(files=(ServerFile(name=f"{folder}/{NAME}", text=text),), remarks=remarks)
    if secrets is None:
        return made
    return made + _secrets_file(walk, accounts, secrets, folder=folder, title=title, realm=realm, digest=digest)


@cache
def _form() -> str:
    return files("doorwright.render.services").joinpath(NAME).read_text(encoding="utf-8")


def _secrets_file(
    walk: Walk,
    accounts: tuple[Account, ...],
    secrets: Mapping[str, str],
    *,
    folder: str,
    title: str,
    realm: str,
    digest: str,
) -> Served:
    lines: list[str] = []
    remarks: list[str] = []
    for account in accounts:
        hashes, missing = hashes_of(walk, account, secrets, realm=realm, digest=digest)
        remarks += missing
        lines += [f'    $sht(hash=>{account.user}::{n}) = "{one}";' for n, one in enumerate(hashes, start=1)]
    head = notes(
        [title, f"SECRET. Digest hashes ({digest}) of SIP users: as good as their secrets to whoever reads this file."]
    )
    text = "\n".join([head, "route[SECRETS] {", *lines, "    return;", "}", ""])
    private = ServerFile(name=f"{folder}/{SECRETS_NAME}", text=text, private=True)
    return Served(files=(private,), remarks=tuple(remarks), hashes_count=len(lines))


def _entrances(walk: Walk, accounts: tuple[Account, ...]) -> dict[str, int]:
    """Return the number of each entrance whose call units register here."""
    met = {
        unit.entrance: entrance
        for account in accounts
        for unit in account.units
        if unit.kind is UnitKind.VCU and (entrance := walk.find(Entrance, unit.entrance)) is not None
    }
    ordered = sorted(met.values(), key=lambda one: (natural_key(one.name), one.id))
    return {entrance.id: number for number, entrance in enumerate(ordered, start=1)}


def _tables(walk: Walk, accounts: tuple[Account, ...], entrances: Mapping[str, int]) -> Iterator[str]:
    for account in accounts:
        yield notes([account.label], "    #")
        yield f"    $sht(ring_ms=>{account.user}) = {max(1, account.ring_s) * 1000};"
        if account.is_dwelling:
            yield f"    $sht(dwelling=>{account.user}) = 1;"
        for turn, address in enumerate(_turns(account), start=1):
            yield f'    $sht(turn=>{account.user}::{turn}) = "{address}";'
        numbers = (entrances.get(unit.entrance or "") for unit in account.units if unit.kind is UnitKind.VCU)
        for number in numbers:
            if number is not None:
                yield f"    $sht(entrance=>{account.user}) = {number};"
    for day in sorted(set(walk.settings().holidays)):
        yield f"    $sht(holiday=>{day.isoformat()}) = 1;"


def _turns(account: Account) -> tuple[str, ...]:
    """Return the addresses of units that ring in turn; none where they cannot be told apart by address."""
    addresses = [address_of(unit.address or "") for unit in account.units]
    known = tuple(dict.fromkeys(str(address) for address in addresses if address is not None))
    return known if account.turns and len(known) == len(account.units) else ()


def _practical(walk: Walk, server: SipServer, accounts: tuple[Account, ...]) -> Iterator[str]:
    """Yield what whoever runs the server must know of this site."""
    registered = {unit.id for account in accounts for unit in account.units}
    behind = [unit.name for ident in sorted(registered) for unit in walk.units_registered_with(ident)]
    if behind:
        units = counted(len(behind), "unit")
        yield f"{units} of {note(server.name)}'s dwellings register with the primary receiver there, which rings them"
    for account in accounts:
        if account.turns and not _turns(account):
            yield f"{account.user} rings together, not in turn: its receivers have no addresses of their own yet"
    zone = note(walk.settings().time_zone or "of the site (not planned)")
    if any(one.timetable is not None and server.id in holders_of_divert(walk, one) for one in walk.all(Divert)):
        yield f"Diverts have hours: let the server run in the time zone {zone}"
    met = _entrances(walk, accounts)
    if any(one.entrance in met and one.purpose is not TimetablePurpose.TRADE_RELEASE for one in walk.all(Timetable)):
        yield "Hours in which calls go through or divert at an entrance are kept by its call units, not by the server"
    if not is_host_name(server.realm or ""):
        yield "The realm is no host name: units address each other by the server's address"
