"""Files for servers on a page: read as text, given out with and without what is secret, and noted."""

import io
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from doorwright.app.demo import PASSPHRASE
from doorwright.app.means import Means
from doorwright.app.plan_book import plan_book
from doorwright.kernel.person import Role
from doorwright.model.network import SipServer
from doorwright.model.unit import Unit
from doorwright.store.book import Book
from doorwright.web.views import services

PAGE = "/books/medium/services"
SECRETS_FILE = "kamailio-secrets.cfg"


@pytest.fixture
def served(client: TestClient, shelf: Path, means: Means) -> TestClient:
    """The book with a SIP server at which every unit registers that did so elsewhere."""
    with Book.open(shelf / "medium.book") as book:
        head, site = book.head(), book.site()
        server = SipServer(id="sip1", name="House server", address="192.0.2.5", realm="door.example")
        units = tuple(replace(unit, registrar="sip1") if unit.registrar is not None else unit for unit in site.units)
        site = site.with_tables({SipServer: (server,), Unit: units})
        book.save(site, parent=head.number, by=means.who, at=means.now(), message="a server")
    plan_book(shelf / "medium.book", means, PASSPHRASE)
    return client


def trail(shelf: Path) -> list[str]:
    with Book.open(shelf / "medium.book", read_only=True) as book:
        return [f"{one.act}: {one.about}" for one in book.trail()]


def test_every_kind_is_told_with_its_files_and_what_they_cannot_say(client: TestClient) -> None:
    view = client.get(f"{PAGE}.json").json()
    by_kind = {one["kind"]: one for one in view["kinds"]}
    assert list(by_kind) == ["kamailio", "kea", "dnsmasq", "zone", "ntp"]
    assert by_kind["kamailio"]["files"] == []
    assert "no SIP server" in by_kind["kamailio"]["remarks"][0]
    assert [one["name"] for one in by_kind["kea"]["files"]] == ["kea-dhcp4.conf"]
    page = client.get(PAGE).text
    assert "A door may hang on these servers" in page
    assert "Download without secrets" in page
    assert "Download with secrets" not in page  # no server proves units


def test_a_file_is_read_as_text(client: TestClient) -> None:
    view = client.get(f"{PAGE}/text.json?file=chrony.conf").json()
    assert view["kind"] == "ntp"
    page = client.get(f"{PAGE}/text?file=chrony.conf").text
    assert view["text"].splitlines()[-1] in page
    assert client.get(f"{PAGE}/text?file=passwd").status_code == 404
    assert client.get(f"{PAGE}/text?file=../medium.book").status_code == 404


def test_one_file_is_given_out_as_it_is_and_several_as_a_zip(client: TestClient, shelf: Path) -> None:
    one = client.post(PAGE, data={"kind": "ntp"})
    assert "chrony.conf" in one.headers["content-disposition"]
    assert one.text == client.get(f"{PAGE}/text.json?file=chrony.conf").json()["text"]
    several = client.post(PAGE, data={"kind": ["kea", "ntp"]})
    assert zipfile.ZipFile(io.BytesIO(several.content)).namelist() == ["kea-dhcp4.conf", "chrony.conf"]
    assert client.post(PAGE, data={"kind": ["kea", "ntp"]}).content == several.content  # the same revision, the same
    assert next(one for one in trail(shelf) if "for servers" in one).endswith("1 file for servers, revision 2")


def test_hashes_are_given_out_with_the_passphrase_alone_and_noted(served: TestClient, shelf: Path) -> None:
    page = served.get(PAGE).text
    assert "Download with secrets" in page
    assert SECRETS_FILE not in page
    plain = served.post(PAGE, data={"kind": ["kamailio", "zone"]})
    assert not [name for name in zipfile.ZipFile(io.BytesIO(plain.content)).namelist() if SECRETS_FILE in name]
    assert not [one for one in trail(shelf) if one.startswith("had secrets shown")]
    asked = {"kind": ["kamailio"], "with_secrets": "yes"}
    wrong = served.post(PAGE, data={**asked, "passphrase": "not this one at all"})
    assert wrong.status_code == 422
    assert "does not open the vault" in wrong.text
    assert "not this one at all" not in wrong.text
    given = served.post(PAGE, data={**asked, "passphrase": PASSPHRASE})
    archive = zipfile.ZipFile(io.BytesIO(given.content))
    (private,) = [one for one in archive.infolist() if SECRETS_FILE in one.filename]
    assert private.external_attr >> 16 & 0o777 == 0o600
    assert given.headers["cache-control"] == "no-store"
    assert any("digest hashes of" in one for one in trail(shelf))
    hashed = archive.read(private).decode()
    recorded = served.get("/books/medium/papers.json").text
    assert SECRETS_FILE not in recorded
    assert served.get(f"{PAGE}/text?file={private.filename}").status_code == 404
    assert PASSPHRASE not in hashed


@pytest.mark.parametrize(
    ("data", "why"),
    [
        ({}, "no server was chosen"),
        ({"kind": "mail"}, "there is no server"),
        ({"kind": "ntp", "digest": "ROT13"}, "there is no digest"),
        ({"kind": "kamailio"}, "nothing to write for these servers"),
        ({"kind": "ntp", "with_secrets": "yes"}, "no passphrase was given"),
    ],
)
def test_what_cannot_be_given_out_is_refused(client: TestClient, data: dict[str, str], why: str) -> None:
    answer = client.post(PAGE, data=data)
    assert answer.status_code == 422
    assert why in answer.text


def test_files_are_given_out_to_planners() -> None:
    posts = [route for route in services.ROUTES if "POST" in (route.methods or ())]
    assert [route.needs for route in posts] == [Role.PLAN]
