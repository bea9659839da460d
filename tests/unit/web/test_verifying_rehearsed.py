"""The page that asks the building rehearsed on this machine: no permission, planned beside rehearsed, nothing found."""

import threading
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from doorwright.app.demo import PASSPHRASE
from doorwright.app.means import Means
from doorwright.app.people import add_person
from doorwright.app.plan_book import plan_book
from doorwright.app.tell_over_sip import rehearsed_registration_notes
from doorwright.app.tell_verified import NOT_UP
from doorwright.app.vault import set_passphrase
from doorwright.app.verify_book import is_permitted
from doorwright.kernel.observation import Stage
from doorwright.kernel.person import Role
from doorwright.model.aspect import Aspect, Standing
from doorwright.model.profile import SecretPolicy
from doorwright.probe.call import CallManner
from doorwright.store.book import Book
from doorwright.web.application import application
from doorwright.web.gate import Gate
from doorwright.web.views import trial_call
from tests.rehearsal import on_wire
from tests.rehearsal.yard import YARD
from tests.unit.probe.loopback import Building
from tests.unit.web.conftest import HOST, ORIGIN
from tests.unit.web.following import ASKED_MOST, done

PAGE = "/books/site/verify"
PORTS = on_wire.ports()
THERE = {
    "building": "rehearsed",
    "patience_s": "5",
    "there_http_port": str(PORTS.http),
    "there_rtsp_port": str(PORTS.rtsp),
    "there_sip_port": str(PORTS.sip),
}
"""How the tests ask: at ports that no other test process has."""
MEANS = Means(who="A. Fitter")
DARK = "Receiver 1"
LATE = "Gate unit"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The yard planned, with the vault's secrets."""
    folder = tmp_path_factory.mktemp("yard")
    policy = SecretPolicy(length_min_count=12, length_max_count=12, alphabet="letters and digits")
    with_secrets = replace(YARD, profiles=tuple(replace(one, sip_secret=policy) for one in YARD.profiles))
    book = on_wire.book_of(with_secrets, folder)
    set_passphrase(book, PASSPHRASE, MEANS)
    plan_book(book, MEANS, PASSPHRASE)
    return folder


@pytest.fixture(scope="module")
def asking(folder: Path) -> Iterator[TestClient]:
    app = application(folder, MEANS, hosts=frozenset({HOST}))
    with TestClient(app, base_url=f"http://{HOST}", headers=ORIGIN) as client:
        yield client


@pytest.fixture(scope="module")
def wire(folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[on_wire.OnWire]:
    """The yard held up, with a receiver whose port is off and a call unit whose clock is an hour late."""
    on_wire.need_loopback_addresses()
    secret = tmp_path_factory.mktemp("secret") / "passphrase.txt"
    secret.write_text(PASSPHRASE + "\n", encoding="utf-8")
    options = ("--fault", f"port-off:{DARK}", "--fault", f"clock-wrong:{LATE}", "--passphrase-file", str(secret))
    with on_wire.OnWire(folder / "site.book", PORTS, "--vault-secrets", *options) as wire:
        yield wire


def asked(client: TestClient, **fields: str) -> Any:
    begun = client.post(PAGE, data={**THERE, **fields}, follow_redirects=False)
    assert begun.status_code == 303, begun.text
    assert begun.headers["location"] == PAGE
    return ended(client)


def ended(client: TestClient) -> Any:
    """Return what the page tells when the asking is over."""
    for _ in range(ASKED_MOST * 100):
        view = client.get(f"{PAGE}.json").json()
        if view["run"]["state"] != "running":
            return view
    raise AssertionError("the asking never ended")


def test_whoever_is_rehearsed_is_asked_without_permission_and_nothing_counts_as_found(
    asking: TestClient, wire: on_wire.OnWire, folder: Path
) -> None:
    view = asked(asking)
    run = view["run"]
    assert (run["state"], run["is_rehearsed"], run["notes"]) == ("done", True, [])
    cells = {row["cells"][0]: row["cells"] for row in run["heard"]["rows"]}
    assert set(cells) == {unit.name for unit in YARD.units}
    assert run["silent"] == [DARK]
    # rehearsed units answer OPTIONS with 200 (RFC 3261 §11.2), at the address of the plan as far as anybody sees
    assert cells["Desk"][1:4] == ["192.0.2.12", "yes", "200"]
    assert {(one["part"], one["what"]) for one in run["differences"]["rows"]} == {
        (DARK, Aspect.ANSWERED),
        (LATE, Aspect.CLOCK),
    }
    assert all(one["differs"] == ["rehearsed"] and not one["found"] for one in run["differences"]["rows"])
    assert view["seen_count"] == 0
    assert not is_permitted(folder / "site.book")
    with Book.open(folder / "site.book", read_only=True) as book:
        assert {one.stage for one in book.observations()} == {Stage.REHEARSED}
    page = asking.get(PAGE).text
    assert "Planned and rehearsed" in page
    assert "Nothing of it counts as found" in page
    assert "Not as planned <span" not in page


def test_only_those_that_are_named_are_asked_over_the_protocols_that_are_wanted(
    asking: TestClient, wire: on_wire.OnWire
) -> None:
    run = asked(asking, only="Gate unit\nDesk", there_http_port="0", there_rtsp_port="0")["run"]
    cells = {row["cells"][0]: row["cells"] for row in run["heard"]["rows"]}
    assert {name: row[3:6] for name, row in cells.items()} == {
        "Gate unit": ["200", "-", "-"],
        "Desk": ["200", "-", "-"],
    }
    assert run["differences"]["total_count"] == 0
    assert "Everything that was asked is as planned" in asking.get(PAGE).text


def test_a_rehearsed_receiver_is_called_and_nobody_says_that_it_may_ring(
    asking: TestClient, wire: on_wire.OnWire, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(trial_call, "CallManner", lambda: CallManner(patience_s=2.0))  # the dark one never answers
    fields = {"building": "rehearsed", "there_sip_port": str(PORTS.sip), "talk_s": "0.5"}
    value = done(asking, f"{PAGE}/call", **fields, unit="Receiver 3")
    assert value["state"] == "done", value
    assert (value["gave"]["is_heard"], value["gave"]["is_rehearsed"]) == (True, True)
    assert value["gave"]["words"] == "Taken, and hung up."
    dark = done(asking, f"{PAGE}/call", **fields, unit=DARK)
    assert dark["gave"]["words"] == "No answer at all."
    assert NOT_UP in dark["gave"]["notes"]
    deaf = done(asking, f"{PAGE}/call", **fields, unit=LATE)
    assert deaf["state"] == "refused"


def test_where_it_is_not_up_the_page_says_how_to_bring_it_up(tmp_path: Path) -> None:
    on_wire.book_of(YARD, tmp_path)
    nobody = {"patience_s": "0.2", **{f"there_{name}_port": str(PORTS.sip + 60) for name in ("http", "rtsp", "sip")}}
    app = application(tmp_path, MEANS, hosts=frozenset({HOST}))
    with TestClient(app, base_url=f"http://{HOST}", headers=ORIGIN) as client:
        run = asked(client, **nobody)["run"]
        assert (run["answered_count"], run["notes"]) == (0, [NOT_UP])
        assert "doorwright rehearse BOOK --wire" in client.get(PAGE).text


def test_rehearsed_registrars_take_the_secrets_of_the_vault_and_know_all_but_the_dark_one(
    asking: TestClient, wire: on_wire.OnWire
) -> None:
    view = asked(asking, registrations="yes", passphrase=PASSPHRASE)
    run = view["run"]
    assert (run["state"], run["asks_registrars"], run["notes"]) == ("done", True, [])
    cells = {row["cells"][0]: row["cells"] for row in run["registered"]["rows"]}
    assert set(cells) == {unit.name for unit in YARD.units} - {"Gate unit"}  # the registrar of the others
    assert {name for name, row in cells.items() if row[4] == "nowhere"} == {DARK}
    assert cells["Desk"][3:5] == ["accepted (200)", "192.0.2.12"]  # as planned, not where it lives on this machine
    assert {(one["part"], one["what"]) for one in run["differences"]["rows"]} >= {(DARK, Aspect.REGISTERED)}
    assert PASSPHRASE not in asking.get(PAGE).text
    told = asking.app.state.shelf.open("site").verifying.now().registrations  # type: ignore[attr-defined]
    refused = tuple(replace(one, standing=Standing.REFUSED) for one in told.heard)
    (note,) = rehearsed_registration_notes(replace(told, heard=refused))
    assert "--vault-secrets" in note
    assert rehearsed_registration_notes(replace(told, heard=(*refused[1:], told.heard[0]))) == ()
    assert rehearsed_registration_notes(replace(told, heard=())) == ()


def test_an_asking_is_stopped_and_the_page_says_so(tmp_path: Path) -> None:
    on_wire.need_loopback_addresses()
    on_wire.book_of(YARD, tmp_path)
    begun, port = threading.Event(), PORTS.sip + 61

    def hears(_count: int, _request: object) -> tuple[bytes, ...]:
        begun.set()
        return ()

    app = application(tmp_path, MEANS, hosts=frozenset({HOST}))
    fields = {"only": "Desk", "patience_s": "60", "there_http_port": "0", "there_rtsp_port": "0"}
    with Building() as one, TestClient(app, base_url=f"http://{HOST}", headers=ORIGIN) as client:
        one.udp("127.0.2.12", port, hears)  # 192.0.2.12 as docs/howto/rehearse-on-the-wire.md moves it
        client.post(PAGE, data={**THERE, **fields, "there_sip_port": str(port)}, follow_redirects=False)
        assert begun.wait(30)
        running = client.get(PAGE).text
        assert "as rehearsed, never as found" in running
        client.post(f"{PAGE}/stop", follow_redirects=False)
        run = ended(client)["run"]
    assert (run["state"], run["heard_count"], run["differences"]) == ("stopped", 0, None)


def test_fields_that_cannot_be_read_and_secrets_without_a_vault_are_refused(asking: TestClient, tmp_path: Path) -> None:
    answer = asking.post(PAGE, data={**THERE, "there_sip_port": "70000", "there_http_port": "web"})
    assert answer.status_code == 422
    assert answer.text.count('<th scope="row">') == 2
    on_wire.book_of(YARD, tmp_path)
    app = application(tmp_path, MEANS, hosts=frozenset({HOST}))
    with TestClient(app, base_url=f"http://{HOST}", headers=ORIGIN) as client:
        answer = client.post(PAGE, data={**THERE, "registrations": "yes", "passphrase": "some words"})
    assert answer.status_code == 422
    assert "no vault" in answer.text
    assert "some words" not in answer.text


def test_who_may_not_say_that_it_is_permitted_may_ask_what_is_rehearsed(tmp_path: Path) -> None:
    on_wire.book_of(YARD, tmp_path)
    people = tmp_path / "people.json"
    add_person(people, "Ada", Role.ADMIN, "a dozen brass door knobs")
    add_person(people, "Di", Role.WORK, "carries the longest ladder")
    means = Means(who="A. Fitter")
    gate = Gate(people, now=means.now, steady_s=lambda: 1000.0)
    app = application(tmp_path, means, hosts=frozenset({HOST}), gate=gate)
    with TestClient(app, base_url=f"https://{HOST}", headers={"Origin": f"https://{HOST}"}) as client:
        client.post("/sign-in", data={"name": "Di", "password": "carries the longest ladder", "next": PAGE})
        page = client.get(PAGE).text
        assert 'value="rehearsed" checked' in page
        assert 'value="real"' not in page
        assert client.post(PAGE, data={"building": "real", "permitted": "yes"}).status_code == 403
        asked_so = client.post(PAGE, data={**THERE, "only": "Nobody"}, follow_redirects=False)
        assert asked_so.status_code == 303
