"""Asks switches over SNMP, version 2c (RFC 3416) or 3 (RFC 3414), by GETBULK alone: there is nothing here that sets."""

from collections.abc import Awaitable, Callable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from ipaddress import ip_address
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final, TypeAlias

from doorwright.probe.reach import Outcome
from doorwright.probe.switch import ASKED, Oid, Value

if TYPE_CHECKING:
    from pysnmp.hlapi.v3arch.asyncio import SnmpEngine

PORT: Final = 161
"""Where agents listen (RFC 3417 §3.1)."""
SECRET_MIN_COUNT: Final = 8
"""Fewest characters of a version 3 user's secrets (RFC 3414 §11.2)."""
_TRIES_COUNT: Final = 3
_VALUES_AT_ONCE: Final = 60
"""Values asked for at once; an agent for whom they are too many sends fewer (RFC 3416 §4.2.3)."""
_MOST_VALUES: Final = 100_000
"""After so many values of one switch nothing more is asked: a real one has learned fewer addresses."""
_TOO_BIG: Final = 1  # error-status tooBig(1) (RFC 3416 §3)


class Digest(StrEnum):
    """How a version 3 user proves who asks: RFC 3414 §6 and RFC 7860."""

    SHA1 = "sha1"
    SHA256 = "sha256"
    SHA512 = "sha512"


@dataclass(frozen=True, slots=True)
class Community:
    """The community of version 2c. It goes over the network in letters that everybody there can read."""

    secret: str = field(repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class User:
    """A user of version 3 whose asking is authenticated and, by AES-128 (RFC 3826), encrypted."""

    name: str
    auth_secret: str = field(repr=False)
    privacy_secret: str = field(repr=False)
    digest: Digest = Digest.SHA256


Key: TypeAlias = Community | User
"""What opens a switch for reading."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What a switch told: values by name, and what came of asking. What was told before it fell silent is kept."""

    outcome: Outcome
    values: Mapping[Oid, Value] = field(default_factory=dict)


async def ask_switch(
    address: str,
    key: Key,
    *,
    patience_s: float,
    turn: Callable[[], Awaitable[None]],
    port: int = PORT,
    tables: Sequence[Sequence[Oid]] = ASKED,
) -> Told:
    """Read tables of a switch.

    Args:
        address: an IP address.
        key: what opens it.
        patience_s: how long to wait for each answer; it is asked three times before it counts as silent.
        turn: waits until one more may be sent.
        port: the UDP port.
        tables: the columns to read, those of one table together.
    """
    # the library takes a tenth of a second to load: only those who ask a switch wait for it
    from pysnmp.hlapi.v3arch.asyncio import SnmpEngine  # noqa: PLC0415

    engine = SnmpEngine()  # one each: two switches may know one user by different secrets
    try:
        asking = await _Asking.of(engine, address, port, key, patience_s=patience_s, turn=turn)
        return await asking.read(tables)
    finally:
        engine.close_dispatcher()


class _Asking:
    """One switch that is asked."""

    def __init__(self, engine: "SnmpEngine", key: Any, at: Any, turn: Callable[[], Awaitable[None]]) -> None:
        self._engine = engine
        self._key = key
        self._at = at
        self._turn = turn
        self._rows_count = _VALUES_AT_ONCE
        self._values: dict[Oid, Value] = {}

    @classmethod
    async def of(
        cls,
        engine: "SnmpEngine",
        address: str,
        port: int,
        key: Key,
        *,
        patience_s: float,
        turn: Callable[[], Awaitable[None]],
    ) -> "_Asking":
        from pysnmp.hlapi.v3arch.asyncio import Udp6TransportTarget, UdpTransportTarget  # noqa: PLC0415

        kind = Udp6TransportTarget if ip_address(address).version == 6 else UdpTransportTarget
        at = await kind.create((address, port), timeout=patience_s, retries=0)  # repeated here, each in its turn
        if isinstance(key, User):
            await turn()  # before the first, one more goes: which engine it is (RFC 3414 §4)
        return cls(engine, _as_library_has_it(key), at, turn)

    async def read(self, tables: Sequence[Sequence[Oid]]) -> Told:
        for table in tables:
            outcome = await self._read_table(table)
            if outcome is not Outcome.ANSWERED:
                return Told(outcome=outcome, values=self._values)
        return Told(outcome=Outcome.ANSWERED, values=self._values)

    async def _read_table(self, table: Sequence[Oid]) -> Outcome:
        """Walk down the columns side by side until each has ended."""
        last = {column: column for column in table}
        while last and len(self._values) < _MOST_VALUES:
            outcome, found = await self._next_of(tuple(last.values()))
            if outcome is not Outcome.ANSWERED:
                return outcome
            before, columns = dict(last), tuple(last)
            for place, (oid, value) in enumerate(found):
                column = columns[place % len(columns)]
                if column not in last:
                    continue
                if oid[: len(column)] != column or oid <= last[column]:  # its end, or an agent that goes in circles
                    del last[column]
                    continue
                last[column] = oid
                if value is not None:
                    self._values[oid] = value
            if last == before:
                break  # an answer without anything new
        return Outcome.ANSWERED

    async def _next_of(self, oids: Sequence[Oid]) -> tuple[Outcome, list[tuple[Oid, Value | None]]]:
        """Ask for what follows these names; an answer holds their rows one after the other (RFC 3416 §4.2.3)."""
        from pysnmp.hlapi.v3arch.asyncio import ContextData, ObjectIdentity, ObjectType, bulk_cmd  # noqa: PLC0415
        from pysnmp.proto import errind  # noqa: PLC0415

        tries_count = 0
        while tries_count < _TRIES_COUNT:
            await self._turn()
            failed, status, _, found = await bulk_cmd(
                self._engine,
                self._key,
                self._at,
                ContextData(),
                0,
                max(1, self._rows_count // len(oids)),
                *(ObjectType(ObjectIdentity(oid)) for oid in oids),
                lookupMib=False,
            )
            if failed is None and not status:
                return Outcome.ANSWERED, [(tuple(name), _value(value)) for name, value in found]
            if failed is not None and not isinstance(failed, errind.RequestTimedOut):
                return Outcome.REFUSED, []  # a report: it does not know who asks, or with that secret
            if failed is None and int(status) == _TOO_BIG and self._rows_count > 1:
                self._rows_count //= 2
                continue
            if failed is None:
                return Outcome.ANSWERED, []  # it stumbles over this table; the others may be well
            tries_count += 1
        return Outcome.SILENT, []


def _as_library_has_it(key: Key) -> Any:
    from pysnmp.hlapi.v3arch.asyncio import (  # noqa: PLC0415
        USM_AUTH_HMAC96_SHA,
        USM_AUTH_HMAC192_SHA256,
        USM_AUTH_HMAC384_SHA512,
        USM_PRIV_CFB128_AES,
        CommunityData,
        UsmUserData,
    )

    if isinstance(key, Community):
        return CommunityData(key.secret, mpModel=1)  # noqa: S508  (1 is version 2c, which most switches speak)
    digests = MappingProxyType(
        {
            Digest.SHA1: USM_AUTH_HMAC96_SHA,
            Digest.SHA256: USM_AUTH_HMAC192_SHA256,
            Digest.SHA512: USM_AUTH_HMAC384_SHA512,
        }
    )
    return UsmUserData(
        key.name,
        authKey=key.auth_secret,
        privKey=key.privacy_secret,
        authProtocol=digests[key.digest],
        privProtocol=USM_PRIV_CFB128_AES,
    )


def _value(value: Any) -> Value | None:
    """Return a number or octets; None for the end of what there is, and for kinds that no table of ours has."""
    from pyasn1.type.univ import Integer, OctetString  # noqa: PLC0415

    if isinstance(value, OctetString):
        return bytes(value)
    return int(value) if isinstance(value, Integer) else None
