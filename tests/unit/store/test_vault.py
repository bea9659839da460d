import pickle
from collections.abc import Callable

import pytest

from doorwright.kernel.errors import Refused
from doorwright.store import vault
from doorwright.store.vault import OpenVault, Parameters, SealedVault, create, derive_key

PASSPHRASE = "seven grey herons wade"  # noqa: S105  (an invented one)
QUICK = Parameters(passes_count=1, lanes_count=1, memory_kib=8)  # the least RFC 9106 §3.1 allows: tests need no more


@pytest.fixture
def drawn() -> Callable[[int], bytes]:
    """Bytes that differ with every draw and are the same in every run."""
    counter = iter(range(1, 1 << 16))
    return lambda count: b"".join(next(counter).to_bytes(2, "big") for _ in range((count + 1) // 2))[:count]


def test_the_derivation_is_argon2id_of_rfc_9106() -> None:
    # RFC 9106 §5.3: P 32 x 01, S 16 x 02, K 8 x 03, X 12 x 04, 3 passes, 32 KiB, 4 lanes, tag of 32 bytes.
    tag = derive_key(
        bytes([1]) * 32,
        bytes([2]) * 16,
        Parameters(passes_count=3, lanes_count=4, memory_kib=32),
        secret=bytes([3]) * 8,
        associated=bytes([4]) * 12,
    )

    assert tag.hex() == "0d640df58d78766c08c037a34a8b53c9d01ef0452d75b65eb52520e96b01e659"


def test_a_new_vault_asks_for_the_second_recommended_option(drawn: Callable[[int], bytes]) -> None:
    # RFC 9106 §4, second recommended option: t=3, p=4, m=2^16 KiB (64 MiB), 128-bit salt.
    sealed, _ = create(PASSPHRASE, random_bytes=drawn)

    assert sealed.parameters == Parameters(passes_count=3, lanes_count=4, memory_kib=2**16)
    assert sealed.unlock(PASSPHRASE).vault_id == sealed.vault_id


def test_the_header_is_laid_out_as_documented() -> None:
    # docs/reference/vault-format.md: the draws are vault id, data key, salt, nonce, in this order.
    draws = iter([b"I" * 16, b"K" * 32, b"S" * 16, b"N" * 12])
    sealed, _ = create(PASSPHRASE, random_bytes=lambda count: next(draws), parameters=QUICK)

    header = sealed.header
    assert len(header) == 114
    assert header[0:8] == bytes.fromhex("44 57 56 41 55 4c 54 00")
    assert header[8:10] == bytes([0, 1])
    assert header[10:26] == b"I" * 16
    assert header[26:38] == bytes([0, 0, 0, 1, 0, 0, 0, 1, 0, 0, 0, 8])
    assert header[38:54] == b"S" * 16
    assert header[54:66] == b"N" * 12


def test_a_sealed_secret_is_revealed_again(drawn: Callable[[int], bytes]) -> None:
    sealed, opened = create(PASSPHRASE, random_bytes=drawn, parameters=QUICK)
    lump = opened.seal("s1", "Gr€at-secret", random_bytes=drawn)

    assert sealed.unlock(PASSPHRASE).reveal("s1", lump) == "Gr€at-secret"
    assert "Gr€at".encode() not in lump
    assert len(lump) == 12 + len("Gr€at-secret".encode()) + 16  # nonce, as many bytes as the secret, tag
    assert opened.seal("s1", "Gr€at-secret", random_bytes=drawn) != lump


def test_a_wrong_passphrase_is_refused_and_told_nothing(drawn: Callable[[int], bytes]) -> None:
    sealed, _ = create(PASSPHRASE, random_bytes=drawn, parameters=QUICK)

    with pytest.raises(Refused) as caught:
        sealed.unlock("seven grey herons wode")

    assert caught.value.message == "the passphrase does not open the vault"
    assert caught.value.__cause__ is None
    assert caught.value.__suppress_context__


@pytest.mark.parametrize("place", [*range(10, 54, 4), 54, 66, 97, 98, 113])
def test_no_bit_of_the_header_can_be_changed(place: int, drawn: Callable[[int], bytes]) -> None:
    sealed, _ = create(PASSPHRASE, random_bytes=drawn, parameters=QUICK)
    forged = bytearray(sealed.header)
    forged[place] ^= 1

    with pytest.raises(Refused):
        SealedVault(bytes(forged)).unlock(PASSPHRASE)


def test_entries_cannot_be_changed_exchanged_or_moved(drawn: Callable[[int], bytes]) -> None:
    _, opened = create(PASSPHRASE, random_bytes=drawn, parameters=QUICK)
    _, other = create(PASSPHRASE, random_bytes=drawn, parameters=QUICK)
    lump = opened.seal("s1", "first", random_bytes=drawn)

    for place in range(len(lump)):
        forged = bytearray(lump)
        forged[place] ^= 0x80
        with pytest.raises(Refused, match="changed after it was sealed"):
            opened.reveal("s1", bytes(forged))
    with pytest.raises(Refused):
        opened.reveal("s2", lump)
    with pytest.raises(Refused):
        other.reveal("s1", lump)
    for length in (0, 5, 12, 20, len(lump) - 1):
        with pytest.raises(Refused):
            opened.reveal("s1", lump[:length])


def test_a_new_passphrase_leaves_the_entries_as_they_are(drawn: Callable[[int], bytes]) -> None:
    sealed, opened = create(PASSPHRASE, random_bytes=drawn, parameters=QUICK)
    lump = opened.seal("s1", "first", random_bytes=drawn)
    stronger = Parameters(passes_count=2, lanes_count=1, memory_kib=16)
    again = opened.change_passphrase("nine brown otters dive", random_bytes=drawn, parameters=stronger)

    assert again.vault_id == sealed.vault_id
    assert again.parameters == stronger
    assert again.unlock("nine brown otters dive").reveal("s1", lump) == "first"
    with pytest.raises(Refused):
        again.unlock(PASSPHRASE)


def test_an_open_vault_shows_nothing(drawn: Callable[[int], bytes]) -> None:
    draws = iter([b"I" * 16, b"K" * 32, b"S" * 16, b"N" * 12])
    _, opened = create(PASSPHRASE, random_bytes=lambda count: next(draws), parameters=QUICK)

    assert repr(opened) == str(opened) == "OpenVault(…)"
    with pytest.raises(TypeError):
        pickle.dumps(opened)


@pytest.mark.parametrize(
    "passphrase",
    [
        "fourteen chars",  # NIST SP 800-63B-4 §3.1.1.2: at least 15 where it is the only factor
        "",
        "aaaaaaaaaaaaaaaaaaaa",
        "Passwordpassword",
        "letmeinletmeinlet",
    ],
)
def test_a_passphrase_that_is_short_or_repeats_itself_is_refused(
    passphrase: str, drawn: Callable[[int], bytes]
) -> None:
    with pytest.raises(Refused, match="passphrase"):
        create(passphrase, random_bytes=drawn, parameters=QUICK)
    _, opened = create(PASSPHRASE, random_bytes=drawn, parameters=QUICK)
    with pytest.raises(Refused, match="passphrase"):
        opened.change_passphrase(passphrase, random_bytes=drawn, parameters=QUICK)


@pytest.mark.parametrize(
    "passphrase", ["fifteen charact", "ein Fuß im Öfchen", "x" * 40 + " and 64 in all, and" + "y z w"]
)
def test_length_is_the_only_rule(passphrase: str, drawn: Callable[[int], bytes]) -> None:
    # NIST SP 800-63B-4 §3.1.1.2: no rules of composition, at least 64 characters allowed.
    sealed, _ = create(passphrase, random_bytes=drawn, parameters=QUICK)

    assert sealed.unlock(passphrase).vault_id == sealed.vault_id


def test_the_same_words_from_another_keyboard_open_the_vault(drawn: Callable[[int], bytes]) -> None:
    # U+00E9 and e + U+0301 are one letter; U+FB01 is the ligature of fi (Unicode NFKC).
    sealed, _ = create("caf\u00e9 behind the \ufb01replace", random_bytes=drawn, parameters=QUICK)

    assert sealed.unlock("cafe\u0301 behind the fireplace").vault_id == sealed.vault_id


def test_what_is_no_header_is_refused(drawn: Callable[[int], bytes]) -> None:
    sealed, _ = create(PASSPHRASE, random_bytes=drawn, parameters=QUICK)

    for header in (b"", b"DWVAULT", sealed.header[:-1], sealed.header + b"\0", b"X" + sealed.header[1:]):
        with pytest.raises(Refused, match="damaged"):
            SealedVault(header)
    with pytest.raises(Refused, match="version 2"):
        SealedVault(sealed.header[:8] + bytes([0, 2]) + sealed.header[10:])


@pytest.mark.parametrize("place", [26, 30, 34])
def test_a_forged_header_cannot_ask_for_the_whole_machine(place: int, drawn: Callable[[int], bytes]) -> None:
    sealed, _ = create(PASSPHRASE, random_bytes=drawn, parameters=QUICK)
    forged = sealed.header[:place] + b"\xff\xff\xff\xff" + sealed.header[place + 4 :]

    with pytest.raises(Refused, match="damaged"):
        SealedVault(forged).unlock(PASSPHRASE)


def test_too_little_memory_is_a_refusal(drawn: Callable[[int], bytes], monkeypatch: pytest.MonkeyPatch) -> None:
    sealed, _ = create(PASSPHRASE, random_bytes=drawn, parameters=QUICK)

    class Starved:
        def __init__(self, **_: object) -> None: ...

        def derive(self, _: bytes) -> bytes:
            raise MemoryError

    monkeypatch.setattr(vault, "Argon2id", Starved)
    with pytest.raises(Refused, match="memory"):
        sealed.unlock(PASSPHRASE)


def test_a_source_of_chance_that_runs_dry_is_our_mistake() -> None:
    with pytest.raises(ValueError, match="random bytes"):
        create(PASSPHRASE, random_bytes=lambda count: b"", parameters=QUICK)
    with pytest.raises(ValueError, match="random bytes"):
        OpenVault(b"I" * 16, b"K" * 32).seal("s1", "x", random_bytes=lambda count: b"")
