"""What the form of Verify says of switches and of discovery. Secrets are read here, and shown nowhere."""

from typing import Final

from starlette.exceptions import HTTPException

from doorwright.app.ask_further import FurtherAsks
from doorwright.app.verify_switches import VaultKeys, see_long_enough
from doorwright.kernel.person import Role
from doorwright.probe.discovery import PORT as DISCOVERY_PORT
from doorwright.probe.snmp import PORT, Community, Digest, Key, User
from doorwright.web.asking import Ask
from doorwright.web.filled import Filled
from doorwright.web.unlocking import passphrase_of

PORT_MOST: Final = 65_535
VERSIONS: Final = ("3", "2c")
SWITCH_LABELS: Final = {
    "discovery_port": "WS-Discovery port",
    "snmp": "SNMP version",
    "snmp_port": "SNMP port",
    "snmp_user": "User",
    "snmp_digest": "How the user proves who asks",
    "snmp_auth": "Authentication secret",
    "snmp_privacy": "Privacy secret",
    "snmp_community": "Community",
}
_NOT_SHOWN: Final = "(not shown)"


def further_asks(ask: Ask, filled: Filled) -> FurtherAsks:
    """Return what the form wants of switches and of discovery; what cannot be read is noted in ``filled``.

    The keys of the vault come without its passphrase, which is asked of it only where all else could be read.
    """
    version = ask.text("snmp")
    if version and version not in VERSIONS:
        filled.wrong("snmp", version, "this is no version that is asked", f"Choose one of {', '.join(VERSIONS)}.")
    return FurtherAsks(
        discovery_port=filled.whole("discovery_port", default=DISCOVERY_PORT, least=0, most=PORT_MOST) or None,
        everywhere=ask.chosen("discover"),
        keys=_keys(ask, filled, version) if version in VERSIONS else None,
        snmp_port=filled.whole("snmp_port", default=PORT, least=1, most=PORT_MOST),
    )


def _keys(ask: Ask, filled: Filled, version: str) -> Key | VaultKeys:
    user, digest = None, Digest.SHA256
    if version == "3":
        user, told = ask.text("snmp_user"), ask.text("snmp_digest", digest.value)
        if not user:
            filled.wrong("snmp_user", "", "version 3 needs a user", "Write it as it is entered at the switches.")
        if told in set(Digest):
            digest = Digest(told)
        else:
            filled.wrong("snmp_digest", told, "this is no digest", f"Choose one of {', '.join(Digest)}.")
    if ask.chosen("snmp_vault"):
        return VaultKeys(passphrase="", user=user, digest=digest)
    if user is None:
        return Community(_secret(ask, filled, "snmp_community"))
    key = User(
        name=user,
        auth_secret=_secret(ask, filled, "snmp_auth"),
        privacy_secret=_secret(ask, filled, "snmp_privacy"),
        digest=digest,
    )
    if key.auth_secret and key.privacy_secret:
        see_long_enough(key)
    return key


def _secret(ask: Ask, filled: Filled, name: str) -> str:
    value = ask.fields.get(name, "")
    secret = value if isinstance(value, str) else ""
    if not secret:
        filled.wrong(name, "", "nothing was given", "Type it, or take it from the vault.")
    elif not secret.isprintable():
        filled.wrong(name, _NOT_SHOWN, "it holds what no keyboard writes", "Type it anew.")
    return secret


def passphrase_given(ask: Ask, *fields: str) -> str:
    """Return the vault's passphrase out of the first of these fields of the form that is not blank.

    Raises:
        Refused: it does not open the vault.
        HTTPException: whoever asks may not open it.
    """
    if not ask.person.may(Role.PLAN):
        raise HTTPException(403, "the vault is opened by somebody with the role 'plan'")
    return passphrase_of(ask, next((field for field in fields if ask.fields.get(field)), fields[0]))
