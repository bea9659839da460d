"""`services`, on the planned example with a SIP server set in, at which everything registers."""

import sys
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from doorwright.app.past import trail
from doorwright.model.network import SipServer
from doorwright.model.place import Dwelling
from doorwright.model.unit import SecretUse, Unit
from doorwright.model.walk import Walk
from doorwright.render.services.accounts import hash_of
from doorwright.store.book import Book
from tests.unit.cli.conftest import PASSPHRASE, Doorwright

SECRETS = Path("sip-registrar") / "kamailio-secrets.cfg"


@pytest.fixture
def served(book: Path) -> Path:
    with Book.open(book) as opened:
        head, site = opened.head(), opened.site()
        server = SipServer(id="server", name="Registrar", address="192.0.2.120", realm="doors.example")
        units = tuple(replace(unit, registrar=server.id) for unit in site.units)
        changed = site.with_tables({SipServer: (server,), Unit: units})
        at = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)
        opened.save(changed, parent=head.number, by="Test", at=at, message="a server")
    return book


def test_without_being_asked_for_no_secret_is_written(doorwright: Doorwright, served: Path, tmp_path: Path) -> None:
    out = tmp_path / "servers"
    ran = doorwright("services", served, "--out", out, "--json")
    assert ran.code == 0
    names = sorted(path.relative_to(out).as_posix() for path in out.rglob("*") if path.is_file())
    assert names == [
        "chrony.conf",
        "dnsmasq.conf",
        "doors.example.zone",
        "kea-dhcp4.conf",
        "sip-registrar/kamailio.cfg",
    ]
    assert ran.json["private"] == []
    assert any("no MAC address yet" in remark for remark in ran.json["remarks"])
    assert [str(one) for one in trail(served)][-1].endswith("5 files for servers, revision 3")
    with Book.open(served, read_only=True) as book:
        assert {one.name for one in book.artefacts()} == set(names)


def test_hashes_are_written_privately_with_the_passphrase_and_noted(
    doorwright: Doorwright, served: Path, tmp_path: Path, passphrase_file: Path
) -> None:
    out = tmp_path / "servers"
    arguments = ("--with-secrets", "--passphrase-file", passphrase_file, "--by", "Ines")
    ran = doorwright("services", served, "--out", out, "--kind", "kamailio", *arguments)
    assert ran.code == 0
    path = out / SECRETS
    if sys.platform != "win32":
        assert path.stat().st_mode & 0o777 == 0o600
    with Book.open(served, read_only=True) as book:
        walk = Walk(book.site())
        vault = book.vault()
        assert vault is not None
        opened, entries = vault.unlock(PASSPHRASE), book.sealed()
        secrets = {ident: opened.reveal(ident, sealed) for ident, sealed in entries.items()}
        assert "kamailio-secrets.cfg" not in {Path(one.name).name for one in book.artefacts()}
    text = path.read_text(encoding="utf-8")
    receiver = walk.units_in(next(one for one in walk.all(Dwelling) if one.call_number == "33").id)[0]
    mark = next(one for one in walk.secrets_of(receiver.id) if one.use is SecretUse.SIP)
    made = hash_of("33", "doors.example", secrets[mark.id], "MD5")
    assert made in text
    everything = ran.out + ran.err + (out / "sip-registrar" / "kamailio.cfg").read_text(encoding="utf-8")
    assert not any(secret in everything + text for secret in secrets.values())
    assert made not in everything
    told = [str(one) for one in trail(served)]
    assert any(one.startswith("Ines had secrets shown: ") and "digest hash" in one for one in told)
    assert made not in " ".join(told)


def test_a_wrong_passphrase_writes_nothing(doorwright: Doorwright, served: Path, tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.txt"
    wrong.write_text("not the right passphrase at all\n", encoding="utf-8")
    out = tmp_path / "servers"
    assert doorwright("services", served, "--out", out, "--with-secrets", "--passphrase-file", wrong).code == 2
    assert not out.exists()
    assert not any("files for servers" in str(one) for one in trail(served))


def test_what_somebody_worked_on_is_not_written_over(doorwright: Doorwright, served: Path, tmp_path: Path) -> None:
    out = tmp_path / "servers"
    assert doorwright("services", served, "--out", out, "--kind", "ntp").code == 0
    assert doorwright("services", served, "--out", out, "--kind", "ntp").code == 0  # the same again harms nobody
    (out / "chrony.conf").write_text("server 192.0.2.9 iburst\n", encoding="utf-8")
    ran = doorwright("services", served, "--out", out)
    assert ran.code == 2
    assert "chrony.conf" in ran.err
    assert [path.name for path in out.iterdir()] == ["chrony.conf"]
    assert doorwright("services", served, "--out", out, "--replace").code == 0
    assert "iburst" in (out / "chrony.conf").read_text(encoding="utf-8")  # in the note on what to enter
    assert "192.0.2.9" not in (out / "chrony.conf").read_text(encoding="utf-8")


def test_a_site_without_a_server_is_told(doorwright: Doorwright, book: Path, tmp_path: Path) -> None:
    ran = doorwright("services", book, "--out", tmp_path / "servers", "--kind", "kamailio", "--kind", "zone")
    assert ran.code == 2
    assert "no SIP server" in ran.err
    assert not (tmp_path / "servers").exists()
