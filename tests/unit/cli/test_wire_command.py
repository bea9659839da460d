"""`doorwright rehearse --wire` and `verify --rehearsed` on the medium example: what they take, refuse and tell."""

from pathlib import Path

import pytest

from doorwright.app.means import Means
from doorwright.app.vault import reveal
from doorwright.model.unit import SecretUse
from tests.interop.served_site import served_site
from tests.rehearsal import on_wire
from tests.unit.cli.conftest import PASSPHRASE, Doorwright

# The medium example by its README: 64 receivers, eight further ones, five call units, a desk; all but the first call
# unit register.
REGISTERING_COUNT = 64 + 8 + 5 + 1 - 1
PORTS = on_wire.port_options(on_wire.ports())


@pytest.mark.parametrize(
    ("options", "named"),
    [
        (["--sip-port", "5070"], "--sip-port"),
        (["--for", "3", "--without", "URU 12"], "--for, --without"),
        (["--wire", "--delay-ms", "3"], "--delay-ms"),
        (["--wire", "--trace", "calls.jsonl"], "--trace"),
        (["--wire", "--keep"], "--keep"),
    ],
)
def test_options_that_do_not_go_together_are_refused(
    doorwright: Doorwright, book: Path, options: list[str], named: str
) -> None:
    ran = doorwright("rehearse", book, *options)
    assert ran.code == 2
    assert named in ran.err


def test_a_building_comes_up_and_goes_and_json_tells_where_each_part_was(doorwright: Doorwright, book: Path) -> None:
    on_wire.need_loopback_addresses()
    before = book.read_bytes()
    ran = doorwright("rehearse", book, "--wire", "--for", "0", *PORTS, "--json")
    assert ran.code == 0
    assert len(ran.json["registered"]) == REGISTERING_COUNT
    assert ran.json["not_registered"] == []
    assert all(part["address"].startswith("127.") for part in ran.json["parts"])
    assert len({part["address"] for part in ran.json["parts"]}) == REGISTERING_COUNT + 1
    assert book.read_bytes() == before


def test_the_vaults_secrets_are_shown_only_where_a_file_is_asked_for(
    doorwright: Doorwright, book: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    on_wire.need_loopback_addresses()
    monkeypatch.setenv("DOORWRIGHT_PASSPHRASE", PASSPHRASE)
    accounts = tmp_path / "accounts.csv"
    ran = doorwright("rehearse", book, "--wire", "--for", "0", "--vault-secrets", "--accounts", accounts, *PORTS)
    assert ran.code == 0
    assert f"{REGISTERING_COUNT} of {REGISTERING_COUNT} registered" in ran.out
    secrets = [line.split(",")[4] for line in accounts.read_text(encoding="utf-8").splitlines()[1:]]
    assert len(set(secrets)) == REGISTERING_COUNT
    assert not any(secret in ran.out + ran.err for secret in secrets)
    (shown,) = [one for one in reveal(book, "URU 12", PASSPHRASE, Means(who="Ada")) if one.use is SecretUse.SIP]
    assert shown.secret in secrets
    trail = doorwright("history", book, "--trail")
    assert "accounts for a rehearsal on the wire" in trail.out
    assert doorwright("rehearse", book, "--wire", "--for", "0", "--accounts", accounts, *PORTS).code == 2  # it is there


def test_nobody_is_there_to_be_verified_where_nothing_is_rehearsed(doorwright: Doorwright, book: Path) -> None:
    on_wire.need_loopback_addresses()
    chosen = on_wire.ports()
    asked = ["--sip-port", chosen.sip, "--http-port", chosen.http, "--rtsp-port", chosen.rtsp]
    ran = doorwright("verify", book, "--rehearsed", *asked, "--only", "URU 12", "--only", "SW-A1", "--json")
    assert ran.code == 1
    assert [one["answers"] for one in ran.json["asked"]] == [False]
    assert [one["label"] for one in ran.json["left_out"]] == ["SW-A1"]
    differences = [(one["aspect"], one["differs"]) for one in ran.json["found"]["differences"]]
    assert differences == [("answer on the network", ["rehearsed"])]


def test_the_files_of_a_sip_server_fit_the_rehearsed_building(doorwright: Doorwright, tmp_path: Path) -> None:
    site = served_site(net="192.0.2", port=5070, name="Yard House").site
    book, out = on_wire.book_of(site, tmp_path), tmp_path / "sip-here"
    ran = doorwright("services", book, "--rehearsed", "--out", out, "--json")
    assert ran.code == 0
    text = (out / "sip-yard-house" / "kamailio.cfg").read_text(encoding="utf-8")
    assert (
        "listen=udp:127.0.2.1:5070\n" in text
    )  # 192.0.2.1 in the plan; whoever asks units at it finds the plan's port
    assert "192.0.2." not in text
    refused = doorwright("services", book, "--rehearsed", "--kind", "kea", "--out", out)
    assert refused.code == 2
    assert "--kind kamailio" in refused.err
