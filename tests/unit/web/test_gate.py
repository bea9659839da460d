"""Who comes in over the network, and what stops guessing: sessions, waits, roles, trail."""

import json
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from starlette.routing import Route
from starlette.testclient import TestClient

from doorwright.app.means import Means
from doorwright.app.people import add_person, change_role, remove_person
from doorwright.kernel.errors import Refused
from doorwright.kernel.person import Role
from doorwright.store.people import People
from doorwright.web.application import application
from doorwright.web.asking import OpenTo
from doorwright.web.flood import AT_ONCE, EACH_SECOND, Flood
from doorwright.web.gate import Gate, Wait
from doorwright.web.guard import UPLOAD_MOST_BYTES
from doorwright.web.patience import FIRST_WAIT_S, FORGOTTEN_AFTER_S, FREE_COUNT, MOST_WAIT_S, Patience
from doorwright.web.sessions import IDLE_S, LASTS_S, Sessions
from doorwright.web.signing_in import COOKIE
from doorwright.web.views import ROUTES

HOST = "192.0.2.10:8620"  # RFC 5737
PASSWORDS = {
    "Ada": "a dozen brass door knobs",
    "Bo": "seven cats upon a landing",
    "Cy": "only ever looks at the plan",
    "Di": "carries the longest ladder",
}


@pytest.fixture(scope="module")
def people_made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("people") / "people.json"
    for name, role in (("Ada", Role.ADMIN), ("Bo", Role.PLAN), ("Cy", Role.LOOK), ("Di", Role.WORK)):
        add_person(file, name, role, PASSWORDS[name])
    return file


@pytest.fixture
def people(people_made: Path, tmp_path: Path) -> Path:
    file = tmp_path / "people.json"
    file.write_bytes(people_made.read_bytes())
    return file


class Clock:
    """A clock that stands until it is moved."""

    def __init__(self) -> None:
        self.s = 1000.0

    def __call__(self) -> float:
        return self.s


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def remote(shelf: Path, people: Path, means: Means, clock: Clock) -> Iterator[TestClient]:
    """A browser elsewhere, not signed in."""
    gate = Gate(people, now=means.now, steady_s=clock)
    app = application(shelf, means, hosts=frozenset({HOST}), gate=gate)
    with TestClient(app, base_url=f"https://{HOST}", headers={"Origin": f"https://{HOST}"}) as client:
        yield client


def sign_in(client: TestClient, name: str, password: str | None = None) -> int:
    fields = {"name": name, "password": password or PASSWORDS[name], "next": "/books/medium"}
    return client.post("/sign-in", data=fields, follow_redirects=False).status_code


# coming in


def test_without_a_session_pages_lead_to_the_sign_in_and_programs_are_told(remote: TestClient) -> None:
    page = remote.get("/books/medium", follow_redirects=False)
    assert page.status_code == 303
    assert page.headers["location"] == "/sign-in?next=%2Fbooks%2Fmedium"
    answer = remote.get("/books/medium.json")
    assert (answer.status_code, answer.json()["status"]) == (401, 401)
    assert "Tallow" not in answer.text
    assert remote.get("/books/medium", headers={"HX-Request": "true"}).status_code == 401
    assert remote.get("/static/doorwright.css").status_code == 200


def test_name_and_password_let_in_and_the_cookie_is_kept_from_scripts_and_other_sites(remote: TestClient) -> None:
    fields = {"name": "bo", "password": PASSWORDS["Bo"], "next": "/books/medium"}
    answer = remote.post("/sign-in", data=fields, follow_redirects=False)
    assert answer.headers["location"] == "/books/medium"
    cookie = answer.headers["set-cookie"].lower()
    assert all(word in cookie for word in ("httponly", "secure", "samesite=strict", "path=/"))
    assert "Sign out" in remote.get("/books/medium").text


def test_a_wrong_password_and_an_unknown_name_are_told_alike(remote: TestClient) -> None:
    wrong = remote.post("/sign-in", data={"name": "Bo", "password": "x"})
    unknown = remote.post("/sign-in", data={"name": "Zo", "password": "x"})
    assert (wrong.status_code, unknown.status_code) == (401, 401)
    assert "do not belong together" in wrong.text
    assert wrong.text.replace('value="Bo"', "") == unknown.text.replace('value="Zo"', "")


@pytest.mark.parametrize("to", ["//elsewhere.example/", "https://elsewhere.example/", "/\\elsewhere.example", "x\r\ny"])
def test_signing_in_leads_to_pages_of_our_own_alone(remote: TestClient, to: str) -> None:
    fields = {"name": "Bo", "password": PASSWORDS["Bo"], "next": to}
    assert remote.post("/sign-in", data=fields, follow_redirects=False).headers["location"] == "/"


def test_after_many_wrong_tries_even_the_right_password_waits(remote: TestClient, clock: Clock) -> None:
    assert [sign_in(remote, "Bo", "wrong") for _ in range(FREE_COUNT)] == [401] * FREE_COUNT
    late = remote.post("/sign-in", data={"name": "Bo", "password": PASSWORDS["Bo"]})
    assert late.status_code == 429
    assert int(late.headers["retry-after"]) == FIRST_WAIT_S
    clock.s += FIRST_WAIT_S
    assert sign_in(remote, "Bo") == 303


def test_signing_out_ends_the_session_also_for_a_kept_cookie(remote: TestClient) -> None:
    sign_in(remote, "Bo")
    kept = remote.cookies[COOKIE]
    assert remote.post("/sign-out", follow_redirects=False).headers["location"] == "/sign-in"
    remote.cookies.set(COOKIE, kept, domain="192.0.2.10")
    assert remote.get("/", follow_redirects=False).status_code == 303


def test_who_is_removed_or_given_another_role_is_so_at_once(remote: TestClient, people: Path) -> None:
    sign_in(remote, "Ada")
    assert remote.get("/people").status_code == 200
    add_person(people, "Eve", Role.ADMIN, "holds the second key here")
    change_role(people, "Ada", Role.LOOK)
    assert remote.get("/people").status_code == 403
    remove_person(people, "Ada")
    assert remote.get("/", follow_redirects=False).status_code == 303


def test_the_trail_tells_who_came_and_holds_no_password(remote: TestClient, people: Path) -> None:
    sign_in(remote, "Bo", "not the right one at all")
    sign_in(remote, "Bo")
    trail = people.with_suffix(".trail.jsonl").read_text(encoding="utf-8")
    assert [(line["who"], line["what"]) for line in map(json.loads, trail.splitlines())] == [
        ("Bo", "was not let in"),
        ("Bo", "signed in"),
    ]
    assert PASSWORDS["Bo"] not in trail
    assert "not the right one" not in trail


# who may do what


def _path(route: Route) -> str:
    filled = {"book": "medium", "job": "none", "id": "none", "sheet": "Dwellings", "name": "riser", "number": "1"}
    path = route.path
    for name in route.param_convertors:
        path = path.replace(f"{{{name}}}", filled.get(name, "none")).replace(f"{{{name}:path}}", "none")
        path = path.replace(f"{{{name}:int}}", "1")
    return path


def test_every_route_says_who_may_ask() -> None:
    assert [route for route in ROUTES if not isinstance(route, OpenTo)] == []
    changing = [route for route in ROUTES if isinstance(route, OpenTo) and "POST" in (route.methods or ())]
    open_to_lookers = {route.path for route in changing if route.needs is Role.LOOK}
    assert open_to_lookers <= {"/sign-in", "/sign-out", "/jobs/{job}/stop"}


def test_no_route_answers_below_its_role(remote: TestClient) -> None:
    for name in ("Cy", "Di", "Bo"):
        assert sign_in(remote, name) == 303
        role = {"Cy": Role.LOOK, "Di": Role.WORK, "Bo": Role.PLAN}[name]
        for route in ROUTES:
            if isinstance(route, OpenTo) and route.needs.rank > role.rank:
                for method in route.methods or ():
                    assert remote.request(method, _path(route)).status_code == 403, (method, route.path)
        remote.post("/sign-out")


def test_an_admin_adds_changes_and_removes_people(remote: TestClient, people: Path) -> None:
    sign_in(remote, "Ada")
    made = remote.post("/people/add", data={"name": "Fay", "role": "work", "password": "rings every bell twice"})
    assert "Fay may come in with the role work." in made.text
    remote.post("/people/role", data={"name": "Fay", "role": "plan"})
    entry = People.load(people).find("Fay")
    assert entry is not None
    assert entry.role is Role.PLAN
    remote.post("/people/remove", data={"name": "Fay"})
    assert People.load(people).find("Fay") is None
    last = remote.post("/people/remove", data={"name": "Ada"})
    assert last.status_code == 422
    assert "nobody with the role admin would be left" in last.text


def test_a_role_that_is_none_and_a_short_password_are_refused(remote: TestClient) -> None:
    sign_in(remote, "Ada")
    assert remote.post("/people/add", data={"name": "G", "role": "king", "password": "x" * 20}).status_code == 422
    short = remote.post("/people/add", data={"name": "", "role": "look", "password": "short"})
    assert "a name has 1 to 60" in short.text
    assert "a password has 15 to 256" in short.text


# where requests come from


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "https://elsewhere.example"},
        {"Origin": "null"},
        {"Origin": f"http://{HOST}"},
        {"Origin": "https://192.0.2.10"},
    ],
)
def test_what_another_page_asks_for_is_not_done(remote: TestClient, headers: dict[str, str]) -> None:
    assert sign_in(remote, "Ada") == 303
    answer = remote.post("/people/remove", data={"name": "Bo"}, headers=headers)
    assert answer.status_code == 403


def test_without_an_origin_the_browser_must_say_that_the_page_is_ours(client: TestClient) -> None:
    del client.headers["Origin"]
    assert client.post("/jobs/none/stop").status_code == 403
    assert client.post("/jobs/none/stop", headers={"Sec-Fetch-Site": "cross-site"}).status_code == 403
    assert client.post("/jobs/none/stop", headers={"Sec-Fetch-Site": "same-origin"}).status_code == 404


@pytest.mark.parametrize(
    "host", ["elsewhere.example", "127.0.0.1", "127.0.0.1:80", "127.0.0.1:8620.elsewhere.example", ""]
)
def test_other_names_for_this_machine_are_not_answered(client: TestClient, host: str) -> None:
    answer = client.get("/books/medium", headers={"Host": host})
    assert answer.status_code == 421
    assert "Tallow" not in answer.text


def test_more_than_is_taken_is_refused_before_it_is_read(client: TestClient) -> None:
    answer = client.post("/jobs/none/stop", headers={"Content-Length": str(UPLOAD_MOST_BYTES + 1)})
    assert answer.status_code == 413


def test_more_than_was_announced_is_refused_too(client: TestClient) -> None:
    def parts() -> Iterator[bytes]:
        for _ in range(UPLOAD_MOST_BYTES // (1 << 20) + 1):
            yield b"x" * (1 << 20)

    kind = {"Content-Type": "application/json", "Content-Length": "10"}
    assert client.post("/jobs/none/stop", content=parts(), headers=kind).status_code == 413


@pytest.mark.parametrize("path", ["/static/../application.py", "/static/%2e%2e/application.py", "/books/..%2Fmedium"])
def test_no_path_leads_out_of_what_is_shown(client: TestClient, path: str) -> None:
    assert client.get(path).status_code == 404


# the parts


def test_waits_double_and_are_forgotten() -> None:
    patience = Patience()
    for _ in range(FREE_COUNT):
        assert patience.wait_s("ada", at_s=0.0) == 0.0
        patience.wrong("ada", at_s=0.0)
    assert patience.wait_s("ada", at_s=0.0) == FIRST_WAIT_S
    patience.wrong("ada", at_s=2.0)
    assert patience.wait_s("ada", at_s=2.0) == 2 * FIRST_WAIT_S
    assert patience.wait_s("bo", at_s=2.0) == 0.0
    for _ in range(40):
        patience.wrong("ada", at_s=2.0)
    assert patience.wait_s("ada", at_s=2.0) == MOST_WAIT_S
    assert patience.wait_s("ada", at_s=2.0 + FORGOTTEN_AFTER_S) == 0.0
    patience.right("ada")
    assert patience.wait_s("ada", at_s=2.0) == 0.0


def test_sessions_end_when_idle_and_after_a_day_of_work() -> None:
    sessions = Sessions()
    token = sessions.begin("Ada", at_s=0.0)
    assert sessions.who(token, at_s=IDLE_S - 1) == "Ada"
    assert sessions.who(token, at_s=2 * IDLE_S - 1) is None
    busy = sessions.begin("Ada", at_s=0.0)
    at_s = 0.0
    while at_s < LASTS_S:
        assert sessions.who(busy, at_s=at_s) == "Ada"
        at_s += IDLE_S / 2
    assert sessions.who(busy, at_s=LASTS_S) is None
    assert sessions.who("made up", at_s=0.0) is None


def test_a_flood_is_stopped_and_a_steady_stream_goes_through() -> None:
    flood = Flood()
    assert sum(flood.lets_through("192.0.2.1", at_s=0.0) for _ in range(AT_ONCE + 50)) == AT_ONCE
    assert flood.lets_through("192.0.2.2", at_s=0.0)
    assert flood.lets_through("192.0.2.1", at_s=1.0 / EACH_SECOND)
    assert not flood.lets_through("192.0.2.1", at_s=1.0 / EACH_SECOND)


def test_a_gate_needs_people(tmp_path: Path) -> None:
    with pytest.raises(Refused, match="cannot be read"):
        Gate(tmp_path / "people.json", now=datetime.now)
    (tmp_path / "people.json").write_text('{"form": 1, "people": []}')
    with pytest.raises(Refused, match="nobody is in"):
        Gate(tmp_path / "people.json", now=datetime.now)


def test_many_guesses_at_once_are_not_all_free(people: Path, means: Means, clock: Clock) -> None:
    gate = Gate(people, now=means.now, steady_s=clock)
    for _ in range(FREE_COUNT):
        gate.let_in("Bo", "wrong", "192.0.2.1")
    assert isinstance(gate.let_in("Bo", PASSWORDS["Bo"], "192.0.2.2"), Wait)  # by name
    assert isinstance(gate.let_in("Cy", PASSWORDS["Cy"], "192.0.2.1"), Wait)  # by address
    assert isinstance(gate.let_in("Cy", PASSWORDS["Cy"], "192.0.2.3"), str)


@pytest.mark.parametrize(
    "text", ["", "[]", '{"form": 2, "people": []}', '{"form": 1, "people": [{"name": "A", "role": "king"}, 7]}']
)
def test_a_damaged_people_file_is_told(tmp_path: Path, text: str) -> None:
    file = tmp_path / "people.json"
    file.write_text(text)
    with pytest.raises(Refused):
        People.load(file)
