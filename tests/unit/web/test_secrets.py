"""The page of the vault: a secret is in one answer alone, whoever asked is noted, and guessing is slowed down."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from doorwright.app.demo import PASSPHRASE, example_workbook
from doorwright.app.means import Means
from doorwright.app.take_in import new_book
from doorwright.kernel.person import Role
from doorwright.web.application import application
from doorwright.web.patience import FREE_COUNT
from doorwright.web.views import secrets
from tests.unit.web.conftest import HOST, NOON, ORIGIN

PAGE = "/books/medium/secrets"
JSON = {"Accept": "application/json"}
OTHER = "seven grey herons wade at noon"


def shown(client: TestClient, passphrase: str = PASSPHRASE, owner: str = "SW-A1") -> Any:
    return client.post(f"{PAGE}/show", data={"owner": owner, "passphrase": passphrase})


def test_the_secrets_of_one_unit_are_shown_in_that_answer_alone(client: TestClient) -> None:
    answer = client.post(f"{PAGE}/show", data={"owner": "sw-a1", "passphrase": PASSPHRASE}, headers=JSON)
    (secret,) = answer.json()["secrets"]
    page = shown(client)
    assert secret["secret"] in page.text
    assert 'content="30; url=/books/medium/secrets"' in page.text  # gone without any program too
    assert page.headers["cache-control"] == "no-store"
    assert secret["secret"] not in client.get(PAGE).text + client.get(f"{PAGE}.json").text
    piece = client.post(
        f"{PAGE}/show", data={"owner": "SW-A1", "passphrase": PASSPHRASE}, headers={"HX-Request": "true"}
    ).text
    assert "<html" not in piece
    assert 'data-vanish-s="30"' in piece


def test_who_had_secrets_shown_is_noted(client: TestClient) -> None:
    shown(client)
    (noted, made) = client.get(f"{PAGE}.json").json()["trail"]
    assert (noted["by"], noted["act"], noted["about"].split(" (")[0]) == ("Ada Planner", "had secrets shown", "SW-A1")
    assert made["act"] == "made the vault"
    assert "had secrets shown" in client.get(PAGE).text


def test_the_whole_trail_has_a_page_that_history_leads_to(client: TestClient) -> None:
    client.post(f"{PAGE}/sheet", data={"passphrase": PASSPHRASE})
    assert "/books/medium/trail" in client.get("/books/medium/history").text
    rows = client.get("/books/medium/trail.json").json()["traces"]["rows"]
    assert [one["act"] for one in rows] == ["took out the sealed sheet", "made the vault"]
    assert "took out the sealed sheet" in client.get("/books/medium/trail").text


@pytest.mark.parametrize(
    ("data", "why"),
    [
        ({"owner": "SW-A1", "passphrase": "wrong"}, "does not open the vault"),
        ({"owner": "SW-A1", "passphrase": ""}, "no passphrase"),
        ({"owner": "", "passphrase": PASSPHRASE}, "no unit was named"),
        ({"owner": "Nobody", "passphrase": PASSPHRASE}, "no secret was issued"),
    ],
)
def test_what_cannot_be_shown_is_refused_and_says_no_secret(client: TestClient, data: dict[str, str], why: str) -> None:
    answer = client.post(f"{PAGE}/show", data=data)
    assert (answer.status_code, why in answer.text) == (422, True)
    assert PASSPHRASE not in answer.text
    assert [one["act"] for one in client.get(f"{PAGE}.json").json()["trail"]] == ["made the vault"]


def test_the_sealed_sheet_is_given_out_and_noted(client: TestClient) -> None:
    answer = client.post(f"{PAGE}/sheet", data={"passphrase": PASSPHRASE})
    assert answer.content.startswith(b"%PDF")
    assert "attachment" in answer.headers["content-disposition"]
    assert client.get(f"{PAGE}.json").json()["trail"][0]["act"] == "took out the sealed sheet"
    assert client.post(f"{PAGE}/sheet", data={"passphrase": "wrong"}).status_code == 422


def test_the_passphrase_is_changed_by_whoever_knows_it(client: TestClient) -> None:
    def change(**data: str) -> Any:
        return client.post(f"{PAGE}/passphrase", data=data)

    assert "differ" in change(old=PASSPHRASE, new=OTHER, again="something else again").text
    assert change(old="wrong", new=OTHER, again=OTHER).status_code == 422
    assert "at least 15" in change(old=PASSPHRASE, new="short", again="short").text
    assert shown(client).is_success
    assert "The passphrase is changed." in change(old=PASSPHRASE, new=OTHER, again=OTHER).text
    assert shown(client).status_code == 422
    assert shown(client, OTHER).is_success


def test_after_five_wrong_passphrases_even_the_right_one_waits(shelf: Path) -> None:
    moment = NOON

    def now() -> Any:
        return moment

    app = application(shelf, Means(who="Ada Planner", now=now), hosts=frozenset({HOST}))
    with TestClient(app, base_url=f"http://{HOST}", headers=ORIGIN) as client:
        for _ in range(FREE_COUNT):
            assert shown(client, "wrong").status_code == 422
        waiting = shown(client)
        assert (waiting.status_code, waiting.headers["retry-after"]) == (429, "2")
        assert client.post(f"{PAGE}/sheet", data={"passphrase": PASSPHRASE}).status_code == 429
        moment += timedelta(seconds=2)
        assert shown(client, "wrong").status_code == 422
        moment += timedelta(seconds=2)
        assert shown(client).headers["retry-after"] == "2"  # twice as long now: two of four seconds are over
        moment += timedelta(seconds=2)
        assert shown(client).is_success
        assert shown(client, "wrong").status_code == 422  # forgotten: the right one came


def test_a_book_without_a_vault_gets_one_here(tmp_path: Path) -> None:
    means = Means(who="Ada Planner", now=lambda: NOON)
    new_book(tmp_path / "medium.book", example_workbook(), means)
    with TestClient(
        application(tmp_path, means, hosts=frozenset({HOST})), base_url=f"http://{HOST}", headers=ORIGIN
    ) as client:
        assert "Make the vault" in client.get(PAGE).text
        assert "no vault yet" in shown(client).text
        made = client.post(f"{PAGE}/passphrase", data={"new": OTHER, "again": OTHER})
        assert "The vault is made." in made.text
        assert "the plan issues them" in client.get(PAGE).text


def test_secrets_need_the_role_plan() -> None:
    posts = [route for route in secrets.ROUTES if "POST" in (route.methods or ())]
    assert [route.needs for route in posts] == [Role.PLAN] * 3
