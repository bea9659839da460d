"""The page that asks the building: permission, a live table, a stop, what differs, and a test call. Loopback only."""

import threading
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from doorwright.app.means import Means
from doorwright.app.people import add_person
from doorwright.app.verify_book import CAUTION
from doorwright.kernel.person import Role
from doorwright.model.network import Subnet
from doorwright.model.site import Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.store.book import Book
from doorwright.web.application import application
from doorwright.web.gate import Gate
from doorwright.web.views import trial_call, verify
from tests.unit.probe.loopback import Building, need_many_addresses, shared_ports, sip_answer
from tests.unit.web.conftest import HOST, ORIGIN
from tests.unit.web.following import ASKED_MOST

PAGE = "/books/alder/verify"
JSON = {"Accept": "application/json"}
(SIP,) = shared_ports(1)
MANNER = {
    "asks_per_s": "1000",
    "patience_s": "0.3",
    "http_port": "0",
    "https_port": "0",
    "rtsp_port": "0",
    "sip_port": str(SIP),
}
"""How the tests ask: SIP alone, at a port that nobody else has."""
UNITS = ("V1", "U1", "U2")


@pytest.fixture
def alder(tmp_path: Path) -> Path:
    folder = tmp_path / "alder"
    folder.mkdir()
    units = tuple(
        Unit(id=name.lower(), name=name, kind=kind, profile="p", address=f"127.0.0.{last}")
        for name, kind, last in (("V1", UnitKind.VCU, 2), ("U1", UnitKind.URU, 3), ("U2", UnitKind.URU, 4))
    )
    site = Site(name="Alder Court", units=units, subnets=(Subnet(id="n", name="Units", cidr="127.0.0.0/24"),))
    made = datetime(2026, 1, 1, tzinfo=UTC)
    Book.create(folder / "alder.book", site, by="Ada", at=made, message="made").close()
    return folder


@pytest.fixture
def asking(alder: Path) -> Iterator[TestClient]:
    app = application(alder, Means(who="A. Fitter"), hosts=frozenset({HOST}))
    with TestClient(app, base_url=f"http://{HOST}", headers=ORIGIN) as client:
        yield client


@pytest.fixture
def building() -> Iterator[Building]:
    """V1 and U1 are well, U2 never says a word."""
    need_many_addresses()
    with Building() as one:
        one.udp("127.0.0.2", SIP, sip_answer(200))
        one.udp("127.0.0.3", SIP, sip_answer(503))
        one.udp("127.0.0.4", SIP, lambda _count, _request: ())
        yield one


def ended(client: TestClient) -> Any:
    """Return what the page tells when the asking is over."""
    for _ in range(ASKED_MOST * 100):
        view = client.get(f"{PAGE}.json").json()
        if view["run"] is not None and view["run"]["state"] != "running":
            return view
    raise AssertionError("the asking never ended")


def asked(client: TestClient, **fields: Any) -> Any:
    begun = client.post(PAGE, data={**MANNER, "permitted": "yes", **fields}, follow_redirects=False)
    assert begun.status_code == 303, begun.text
    assert begun.headers["location"] == PAGE
    return ended(client)


def test_the_page_shows_the_caution_and_whom_there_is_to_ask(asking: TestClient) -> None:
    view = asking.get(f"{PAGE}.json").json()
    assert (view["is_permitted"], view["targets_count"], view["run"]) == (False, 3, None)
    page = asking.get(PAGE).text
    assert CAUTION.replace("'", "&#39;") in page
    assert "The owner of the network permits it" in page


def test_nobody_is_asked_before_somebody_says_that_it_is_permitted(asking: TestClient, building: Building) -> None:
    answer = asking.post(PAGE, data=MANNER)
    assert answer.status_code == 422
    assert "must permit this first" in answer.text
    assert asking.get(f"{PAGE}.json").json()["run"] is None
    asked(asking, only="V1")
    assert asking.get(f"{PAGE}.json").json()["is_permitted"]
    assert asking.post(PAGE, data={**MANNER, "only": "U1"}, follow_redirects=False).status_code == 303
    assert ended(asking)["run"]["heard_count"] == 1
    assert "somebody has said that the owner permits it" in asking.get(PAGE).text


def test_what_each_answers_stands_on_the_page_and_beside_the_plan(asking: TestClient, building: Building) -> None:
    view = asked(asking)
    run = view["run"]
    assert (run["state"], run["heard_count"], run["of_count"]) == ("done", 3, 3)
    cells = {row["cells"][0]: row["cells"] for row in run["heard"]["rows"]}
    assert set(cells) == set(UNITS)
    assert cells["V1"][2:4] == ["yes", "200"]
    assert cells["U1"][2:4] == ["yes", "503"]
    assert {one["part"] for one in view["differences"]["rows"]} >= {"U1"}
    (overloaded,) = [one for one in view["differences"]["rows"] if one["part"] == "U1" and one["found"] == "503"]
    assert (overloaded["differs"], overloaded["rehearsed"]) == (["found"], "")
    assert overloaded["to_do"]
    page = asking.get(PAGE).text
    assert "Not as planned" in page
    assert page.count('id="heard-') == 3
    assert "503" in asking.get("/books/alder/found").text


def test_who_was_asked_a_short_while_ago_is_left_in_peace_unless_all_are_wanted(
    asking: TestClient, building: Building
) -> None:
    asked(asking)
    again = asked(asking)["run"]
    assert (again["heard_count"], again["kept_count"]) == (0, 3)
    assert "Left in peace" in asking.get(PAGE).text
    assert asked(asking, again="yes")["run"]["heard_count"] == 3


def test_an_asking_can_be_stopped_and_goes_on_with_the_others(alder: Path) -> None:
    need_many_addresses()
    first, go_on = threading.Event(), threading.Event()

    def holds(_count: int, request: Any) -> Any:
        first.set()
        go_on.wait(30)
        return sip_answer(200)(1, request)

    app = application(alder, Means(who="A. Fitter"), hosts=frozenset({HOST}))
    with (
        Building() as one,
        TestClient(app, base_url=f"http://{HOST}", headers=ORIGIN) as client,
    ):
        one.udp("127.0.0.2", SIP, holds)
        for last in (3, 4):
            one.udp(f"127.0.0.{last}", SIP, sip_answer(200))
        slow = {**MANNER, "patience_s": "20", "at_once": "1", "permitted": "yes"}
        client.post(PAGE, data={**slow, "only": "V1"}, follow_redirects=False)
        assert first.wait(30)
        running = client.get(PAGE).text
        assert 'data-verifying="running"' in running
        assert "Stop asking" in running
        second = client.post(PAGE, data=slow)
        assert second.status_code == 422
        assert "being asked already, begun by A. Fitter" in second.text
        client.post(f"{PAGE}/stop", follow_redirects=False)
        run = ended(client)["run"]
        go_on.set()
        assert (run["state"], run["heard_count"]) == ("stopped", 0)
        assert "ask again, and it goes on with the others" in client.get(PAGE).text
        assert asked(client)["run"]["heard_count"] == 3


def test_what_is_heard_is_told_to_open_pages(asking: TestClient, building: Building) -> None:
    told: list[tuple[str, dict[str, Any]]] = []
    book = asking.app.state.shelf.open("alder")  # type: ignore[attr-defined]
    tell, book.tell = book.tell, lambda event, **facts: told.append((event, facts))
    try:
        asked(asking)
    finally:
        book.tell = tell
    rows = [facts["row"] for event, facts in told if event == "asked" and "row" in facts]
    assert {row.cells[0] for row in rows} == set(UNITS)
    assert told[-1] == ("asked", {"over": True})


def test_names_that_are_in_no_plan_are_told_on_the_page(asking: TestClient) -> None:
    run = asked(asking, only="V1\nNobody")["run"]
    assert run["state"] == "refused"
    assert [one["read"] for one in run["mistakes"]] == ["Nobody"]
    assert "Nobody" in asking.get(PAGE).text


def test_fields_that_cannot_be_read_are_told_all_at_once(asking: TestClient) -> None:
    answer = asking.post(PAGE, data={"permitted": "yes", "asks_per_s": "0", "at_once": "none", "sip_port": "70000"})
    assert answer.status_code == 422
    assert answer.text.count('<th scope="row">') == 3


def test_registrars_are_asked_with_the_vault_alone(asking: TestClient) -> None:
    assert "once the book has a" in asking.get(PAGE).text
    answer = asking.post(PAGE, data={**MANNER, "permitted": "yes", "registrations": "yes", "passphrase": "some words"})
    assert answer.status_code == 422
    assert "no vault" in answer.text
    assert "some words" not in answer.text


def test_a_test_call_says_that_it_may_ring_and_what_became_of_it(asking: TestClient, building: Building) -> None:
    fields = {"unit": "U1", "sip_port": str(SIP), "permitted": "yes", "ring_s": "1", "talk_s": "0.5"}
    answer = asking.post(f"{PAGE}/call", data=fields)
    assert answer.status_code == 422
    assert "it may ring there now" in answer.text
    begun = asking.post(f"{PAGE}/call", data={**fields, "may_ring": "yes"}, follow_redirects=False)
    job = begun.headers["location"]
    for _ in range(ASKED_MOST * 100):
        value = asking.get(f"{job}.json").json()
        if value["state"] not in {"waiting", "running"}:
            break
    assert value["state"] == "done", value
    assert value["gave"]["unit"] == "U1"
    assert "503" in value["gave"]["words"]
    assert "503" in asking.get(job).text
    for left_out, why in (("unit", "no unit was named"), ("ring_s", None)):
        told = asking.post(f"{PAGE}/call", data={**fields, "may_ring": "yes", left_out: "" if why else "999"})
        assert told.status_code == 422
        assert (why or "Seconds it rings at most") in told.text


def test_permission_is_said_by_planners_and_looking_is_open_to_all(alder: Path, tmp_path: Path) -> None:
    people = tmp_path / "people.json"
    add_person(people, "Ada", Role.ADMIN, "a dozen brass door knobs")
    add_person(people, "Di", Role.WORK, "carries the longest ladder")
    means = Means(who="A. Fitter")
    gate = Gate(people, now=means.now, steady_s=lambda: 1000.0)
    app = application(alder, means, hosts=frozenset({HOST}), gate=gate)
    with TestClient(app, base_url=f"https://{HOST}", headers={"Origin": f"https://{HOST}"}) as client:
        client.post("/sign-in", data={"name": "Di", "password": "carries the longest ladder", "next": PAGE})
        assert "Somebody with the role plan says so" in client.get(PAGE).text
        answer = client.post(PAGE, data={**MANNER, "permitted": "yes"})
        assert answer.status_code == 403
        assert "role &#39;plan&#39;" in answer.text
    posts = [one for one in (*verify.ROUTES, *trial_call.ROUTES) if "POST" in (one.methods or ())]
    assert {one.needs for one in posts} == {Role.WORK}
