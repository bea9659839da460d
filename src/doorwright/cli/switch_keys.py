"""What `verify` takes to find units and to ask switches. Secrets come from environment, keyboard or vault."""

import functools
import os
import sys
from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import Any, Final, TypeVar

import click

from doorwright.app.verify_switches import VaultKeys, see_long_enough
from doorwright.cli import options
from doorwright.kernel.errors import Refused
from doorwright.probe.discovery import PORT as DISCOVERY_PORT
from doorwright.probe.snmp import PORT, Community, Digest, Key, User

COMMUNITY_VARIABLE: Final = "DOORWRIGHT_SNMP_COMMUNITY"
AUTH_VARIABLE: Final = "DOORWRIGHT_SNMP_AUTH_SECRET"
PRIVACY_VARIABLE: Final = "DOORWRIGHT_SNMP_PRIVACY_SECRET"

F = TypeVar("F", bound=Callable[..., Any])
_OPTIONS: Final = (
    click.option(
        "--discovery-port", type=click.IntRange(0, 65535), default=DISCOVERY_PORT, show_default=True,
        help="Port of units and switches asked by WS-Discovery; 0 asks none.",
    ),
    click.option(
        "--discover", "everywhere", is_flag=True,
        help="Send one Probe to everybody on the local network as well: it finds units that answer elsewhere than"
        " planned. Strangers are listed, and asked nothing.",
    ),
    click.option(
        "--snmp", "snmp_version", type=click.Choice(["2c", "3"]),
        help="Ask the switches over SNMP as well, in this version: ports, links, errors, PoE. Nothing is set."
        f" Version 2c takes its community from {COMMUNITY_VARIABLE}, version 3 its secrets from {AUTH_VARIABLE} and"
        f" {PRIVACY_VARIABLE} (AES-128); else you are asked.",
    ),
    click.option("--snmp-user", metavar="NAME", help="The user of SNMP version 3."),
    click.option(
        "--snmp-digest", type=click.Choice([one.value for one in Digest]), default=Digest.SHA256.value,
        show_default=True, help="How that user proves who asks.",
    ),
    click.option(
        "--snmp-vault", is_flag=True,
        help="Take as community, or as both secrets of the user, each switch's device secret from the vault.",
    ),
    click.option(
        "--snmp-port", type=click.IntRange(1, 65535), default=PORT, show_default=True, help="Where switches listen."
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """What was given to ask switches and to find units; the names are those of the options' parameters."""

    discovery_port: int
    everywhere: bool
    snmp_version: str | None
    snmp_user: str | None
    snmp_digest: str
    snmp_vault: bool
    snmp_port: int


_NAMES: Final = tuple(one.name for one in fields(Given))


def switch_options(function: F) -> F:
    """Add the options to a command, which gets them as one argument, ``further``."""

    @functools.wraps(function)
    def wrapped(*arguments: Any, **given: Any) -> Any:
        told = Given(**{name: given.pop(name) for name in _NAMES})
        return function(*arguments, further=told, **given)

    made: Any = wrapped
    for option in reversed(_OPTIONS):
        made = option(made)
    return made  # type: ignore[no-any-return]


def keys_of(given: Given, passphrase: str | None, passphrase_file: Any) -> Key | VaultKeys | None:
    """Return what opens the switches, or None where they are not to be asked.

    Args:
        given: what was given.
        passphrase: the vault's, where it was read already.
        passphrase_file: where it can be read.

    Raises:
        Refused: version 3 without a user, a secret that it does not take, or one that is nowhere, with nobody at a
            keyboard to ask.
    """
    if given.snmp_version is None:
        return None
    digest, user = Digest(given.snmp_digest), given.snmp_user if given.snmp_version == "3" else None
    if given.snmp_version == "3" and not user:
        raise Refused("SNMP version 3 needs a user", remedy="Give --snmp-user NAME, as it is entered at the switches.")
    if given.snmp_vault:
        passphrase = passphrase or options.passphrase_from(passphrase_file, "Passphrase of the vault")
        return VaultKeys(passphrase=passphrase, user=user, digest=digest)
    if user is None:
        return Community(_secret(COMMUNITY_VARIABLE, "Community of the switches"))
    key = User(
        name=user,
        auth_secret=_secret(AUTH_VARIABLE, f"Authentication secret of {user}"),
        privacy_secret=_secret(PRIVACY_VARIABLE, f"Privacy secret of {user}"),
        digest=digest,
    )
    see_long_enough(key)
    return key


def _secret(variable: str, prompt: str) -> str:
    given = os.environ.get(variable)
    if given:
        return given
    if not sys.stdin.isatty():
        raise Refused("a secret of the switches is needed", remedy=f"Set {variable}, or give --snmp-vault.")
    answer: str = click.prompt(prompt, hide_input=True, err=True)
    return answer
