"""Rehearsed units and a real SIP server: they register with kamailio, which runs the files of `services`, and call.

The site is served_site.py, with a keypad at its panel; kamailio takes the place of its server (`--without`), and the
units have the secrets of the book's vault, as the server's file of hashes has them.

Needs Debian's package ``kamailio``, and a loopback net of which every address answers (Linux).
"""

import os
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from doorwright.app.means import Means
from doorwright.app.rehearse_on_wire import OnWire, Wish, rehearse_on_wire
from doorwright.model.profile import Profile, ProfileKind
from doorwright.rehearse.rehearsal import Played
from doorwright.store import vault
from doorwright.store.book import Book
from tests.interop.kamailio_process import NET, need_kamailio, running_kamailio
from tests.interop.served_site import ServedSite, served_site
from tests.rehearsal import on_wire

PASSPHRASE = "copper kettle under seven stairs"  # noqa: S105  (invented for the tests)
QUICK = vault.Parameters(passes_count=1, lanes_count=1, memory_kib=64)
MEANS = Means(who="A. Fitter")
PORTS = on_wire.ports()


def _site(port: int) -> ServedSite:
    made = served_site(net=NET, port=port, name="Yard House")
    panel = Profile(key="vcu", title="Panel", kind=ProfileKind.VCU, keypad=True, keypad_digits_max_count=4)
    return replace(made, site=replace(made.site, profiles=(panel,)))


def _book(made: ServedSite, folder: Path) -> Path:
    """Return a book with the site, and the secrets of its marks in the vault."""
    path = folder / "served.book"
    at = datetime(2026, 1, 1, tzinfo=UTC)
    with Book.create(path, replace(made.site, name="before"), by="Ada", at=at, message="made") as book:
        header, opened = vault.create(PASSPHRASE, random_bytes=os.urandom, parameters=QUICK)
        book.set_vault_header(header)
        sealed = {ident: opened.seal(ident, text, random_bytes=os.urandom) for ident, text in made.secrets.items()}
        book.save(made.site, parent=1, by="Ada", at=at, message="secrets", sealed=sealed)
    return path


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A book whose SIP server runs."""
    need_kamailio()
    folder = tmp_path_factory.mktemp("kamailio")
    with running_kamailio(folder, digest="SHA-256", site_of=_site) as (made, _):
        yield _book(made, folder)


def lived(book: Path, *, passphrase: str | None = PASSPHRASE, **wish: object) -> OnWire:
    wanted = Wish(ports=PORTS, stay_s=0, without=("Yard House",), **wish)  # type: ignore[arg-type]
    return rehearse_on_wire(book, MEANS, wanted, passphrase=passphrase)


def test_all_register_with_the_secrets_of_the_vault_and_a_call_forks_to_three(book: Path) -> None:
    made = lived(book, call="Main panel:1001")
    assert made.refused == ()
    assert set(made.registered) == {unit.id for unit in _site(5060).site.units}
    assert isinstance(made.call, Played)
    happened = made.call.happened
    # 1001 has three receivers, which ring together; the last of them in ringing order takes the call
    assert (happened.rang, happened.took) == ((frozenset({"u10010", "u10011", "u10012"}),), "u10012")
    assert happened.both_heard
    assert made.as_planned


def test_a_call_that_is_always_sent_on_rings_the_desk(book: Path) -> None:
    made = lived(book, call="Main panel:1004")  # served_site.py: always to the desk, in hours that are every hour
    assert isinstance(made.call, Played)
    assert (made.call.happened.rang, made.call.happened.took) == ((frozenset({"k"}),), "k")
    assert made.as_planned


def test_a_wrong_secret_and_made_up_ones_are_refused_by_the_real_server(book: Path) -> None:
    wrong = lived(book, faults=("wrong-secret:1005 0",))
    assert wrong.refused == (("u10050", 403),)  # kamailio.cfg: "Wrong Secret"
    made_up = lived(book, passphrase=None)
    assert made_up.registered == ()
    assert {code for _, code in made_up.refused} == {403}
