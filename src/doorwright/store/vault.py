"""The vault: secrets encrypted at rest under one passphrase. Bytes in, bytes out; it knows no database.

A random data key encrypts each secret. The data key itself lies in the header, wrapped under a key that Argon2id
makes from the passphrase, so a new passphrase re-wraps one key and leaves every entry as it is. The layout of each
byte is in docs/reference/vault-format.md.
"""

import struct
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, NoReturn, TypeAlias

from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import ChaCha20Poly1305
from cryptography.hazmat.primitives.kdf.argon2 import Argon2id

from doorwright.kernel.errors import Refused

RandomBytes: TypeAlias = Callable[[int], bytes]
"""Returns that many bytes nobody can foretell: ``os.urandom`` or ``secrets.token_bytes`` outside of tests."""

PASSPHRASE_MIN_COUNT: Final = 15
"""Fewest characters of a passphrase that is the only factor (NIST SP 800-63B-4 §3.1.1.2). No rules of composition."""

_MAGIC: Final = b"DWVAULT\0"
_VERSION: Final = 1
_VAULT_ID_BYTES: Final = 16
_SALT_BYTES: Final = 16  # 128 bit: RFC 9106 §4
_KEY_BYTES: Final = 32  # 256 bit: RFC 8439 §2.8
_NONCE_BYTES: Final = 12  # 96 bit: RFC 8439 §2.8
_TAG_BYTES: Final = 16  # 128 bit: RFC 8439 §2.8
_BOUND: Final = struct.Struct(f">8sH{_VAULT_ID_BYTES}sIII{_SALT_BYTES}s")
_HEADER_BYTES: Final = _BOUND.size + _NONCE_BYTES + _KEY_BYTES + _TAG_BYTES


@dataclass(frozen=True, slots=True, kw_only=True)
class Parameters:
    """What Argon2id is made to work (RFC 9106 §3.1): passes over the memory, lanes side by side, memory in KiB.

    The bounds keep a forged header from asking for more memory or time than a plain machine has.
    """

    passes_count: int
    lanes_count: int
    memory_kib: int

    def __post_init__(self) -> None:
        """Refuse values outside RFC 9106 §3.1 (memory at least 8 KiB a lane) or beyond 4 GiB, 64 lanes, 1000 passes."""
        if not (
            1 <= self.passes_count <= 1000
            and 1 <= self.lanes_count <= 64
            and 8 * self.lanes_count <= self.memory_kib <= 4 * 1024 * 1024
        ):
            raise ValueError(f"Argon2id cannot be asked for {self}")


RECOMMENDED: Final = Parameters(passes_count=3, lanes_count=4, memory_kib=64 * 1024)
"""The second recommended option of RFC 9106 §4: 3 passes, 4 lanes, 64 MiB, for where 2 GiB are too much."""


@dataclass(frozen=True, slots=True)
class SealedVault:
    """A vault as it lies on the disk: its header. It shows nothing without the passphrase."""

    header: bytes

    def __post_init__(self) -> None:
        """Refuse what is no vault header, or one from a newer Doorwright."""
        magic, version = self.header[:8], int.from_bytes(self.header[8:10], "big")
        if magic == _MAGIC and version > _VERSION:
            raise Refused(
                f"the vault has version {version}; this Doorwright opens versions up to {_VERSION}",
                remedy="Open it with the newer Doorwright that wrote it.",
            )
        if magic != _MAGIC or version != _VERSION or len(self.header) != _HEADER_BYTES:
            raise Refused("the vault's header is damaged", remedy="Restore the book from a copy.")

    @property
    def vault_id(self) -> bytes:
        """16 bytes made once with the vault; every entry is bound to them."""
        return self.header[10 : 10 + _VAULT_ID_BYTES]

    @property
    def parameters(self) -> Parameters:
        """What the header asks of Argon2id.

        Raises:
            Refused: it asks for what no vault of ours asks.
        """
        *_, passes_count, lanes_count, memory_kib, _salt = _BOUND.unpack_from(self.header)
        try:
            return Parameters(passes_count=passes_count, lanes_count=lanes_count, memory_kib=memory_kib)
        except ValueError as error:
            raise Refused("the vault's header is damaged", remedy="Restore the book from a copy.") from error

    def unlock(self, passphrase: str) -> "OpenVault":
        """Return the open vault.

        Raises:
            Refused: the passphrase does not open it, or the header was changed; which of the two cannot be told.
        """
        bound, rest = self.header[: _BOUND.size], self.header[_BOUND.size :]
        wrapping = ChaCha20Poly1305(_derived(passphrase, bound[-_SALT_BYTES:], self.parameters))
        try:
            data_key = wrapping.decrypt(rest[:_NONCE_BYTES], rest[_NONCE_BYTES:], bound)
        except InvalidTag:
            raise Refused(
                "the passphrase does not open the vault",
                remedy="Type it again; mind the keyboard's language and the capitals lock.",
            ) from None
        return OpenVault(self.vault_id, data_key)


class OpenVault:
    """A vault whose data key is known. It prints as nothing, and it cannot be copied into a file."""

    __slots__ = ("_cipher", "_data_key", "vault_id")

    def __init__(self, vault_id: bytes, data_key: bytes) -> None:
        self.vault_id = vault_id
        self._data_key = data_key
        self._cipher = ChaCha20Poly1305(data_key)

    def __repr__(self) -> str:
        return "OpenVault(…)"

    def __reduce__(self) -> NoReturn:
        raise TypeError("an open vault is not written anywhere")

    def seal(self, entry: str, secret: str, *, random_bytes: RandomBytes) -> bytes:
        """Return ``secret`` encrypted, to be kept under the identifier ``entry`` and no other."""
        nonce = _drawn(random_bytes, _NONCE_BYTES)
        return nonce + self._cipher.encrypt(nonce, secret.encode(), self._bound_to(entry))

    def reveal(self, entry: str, sealed: bytes) -> str:
        """Return the secret kept under the identifier ``entry``.

        Raises:
            Refused: the bytes were changed, or belong to another entry or another vault.
        """
        try:
            return self._cipher.decrypt(sealed[:_NONCE_BYTES], sealed[_NONCE_BYTES:], self._bound_to(entry)).decode()
        except (InvalidTag, ValueError):  # ValueError: too short to hold even a nonce
            raise Refused(
                f"the secret {entry} cannot be read: it was changed after it was sealed",
                remedy="Restore the book from a copy, or issue a new secret.",
            ) from None

    def change_passphrase(
        self, passphrase: str, *, random_bytes: RandomBytes, parameters: Parameters = RECOMMENDED
    ) -> SealedVault:
        """Return the vault sealed under a new passphrase. Its entries stay as they are: only the data key is wrapped.

        A copy of the old header still opens with the old passphrase.

        Raises:
            Refused: the passphrase is too easy to guess.
        """
        _demand(passphrase)
        return _wrapped(self.vault_id, self._data_key, passphrase, random_bytes=random_bytes, parameters=parameters)

    def _bound_to(self, entry: str) -> bytes:
        return self.vault_id + entry.encode()


def create(
    passphrase: str, *, random_bytes: RandomBytes, parameters: Parameters = RECOMMENDED
) -> tuple[SealedVault, OpenVault]:
    """Return a new vault, sealed and open.

    Raises:
        Refused: the passphrase is too easy to guess.
    """
    _demand(passphrase)
    opened = OpenVault(_drawn(random_bytes, _VAULT_ID_BYTES), _drawn(random_bytes, _KEY_BYTES))
    return opened.change_passphrase(passphrase, random_bytes=random_bytes, parameters=parameters), opened


def _wrapped(
    vault_id: bytes, data_key: bytes, passphrase: str, *, random_bytes: RandomBytes, parameters: Parameters
) -> SealedVault:
    salt = _drawn(random_bytes, _SALT_BYTES)
    work = (parameters.passes_count, parameters.lanes_count, parameters.memory_kib)
    bound = _BOUND.pack(_MAGIC, _VERSION, vault_id, *work, salt)
    nonce = _drawn(random_bytes, _NONCE_BYTES)
    wrapping = ChaCha20Poly1305(_derived(passphrase, salt, parameters))
    return SealedVault(bound + nonce + wrapping.encrypt(nonce, data_key, bound))


def derive_key(
    message: bytes,
    salt: bytes,
    parameters: Parameters,
    *,
    secret: bytes | None = None,
    associated: bytes | None = None,
) -> bytes:
    """Return the 256-bit tag of Argon2id, version 0x13 (RFC 9106 §3.1).

    The vault uses neither ``secret`` nor ``associated``; they are here because the RFC's own example does.

    Raises:
        Refused: this machine has not enough memory free.
    """
    try:
        return Argon2id(
            salt=salt,
            length=_KEY_BYTES,
            iterations=parameters.passes_count,
            lanes=parameters.lanes_count,
            memory_cost=parameters.memory_kib,
            ad=associated,
            secret=secret,
        ).derive(message)
    except MemoryError as error:
        raise Refused(
            f"opening the vault takes {parameters.memory_kib // 1024} MiB of memory, which this machine has not free",
            remedy="Close other programs and try again.",
        ) from error


def _derived(passphrase: str, salt: bytes, parameters: Parameters) -> bytes:
    return derive_key(_normal(passphrase).encode(), salt, parameters)


def _normal(passphrase: str) -> str:
    """Return the one form of what different keyboards type differently (NIST SP 800-63B-4 §3.1.1.2: NFKC or NFC)."""
    return unicodedata.normalize("NFKC", passphrase)


def _demand(passphrase: str) -> None:
    normal = _normal(passphrase)
    if len(normal) < PASSPHRASE_MIN_COUNT:
        raise Refused(
            f"the passphrase has {len(normal)} characters; it needs at least {PASSPHRASE_MIN_COUNT}",
            remedy="Take four or more words that do not belong together. Any characters and spaces will do.",
        )
    folded = normal.casefold()
    if any(folded[period:] == folded[:-period] for period in range(1, len(folded) // 2 + 1)):
        raise Refused(
            "the passphrase only repeats itself, so it is no longer than the piece it repeats",
            remedy="Take four or more words that do not belong together.",
        )


def _drawn(random_bytes: RandomBytes, count: int) -> bytes:
    drawn = random_bytes(count)
    if len(drawn) != count:
        raise ValueError(f"asked for {count} random bytes and was given {len(drawn)}")
    return drawn
