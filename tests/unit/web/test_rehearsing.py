"""The page of the rehearsal: begun by a form, read call by call, each call drawn; stale where the plan has changed."""

from dataclasses import replace
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from doorwright.app.means import Means
from doorwright.kernel.observation import Stage
from doorwright.rehearse.faults import FAULTS
from doorwright.store.book import Book
from doorwright.web.jobs import State
from doorwright.web.rehearsals import KEPT_COUNT
from tests.unit.web.following import done, made

PAGE = "/books/medium/rehearsal"
JSON = {"Accept": "application/json"}


def rehearsed(client: TestClient, **fields: Any) -> str:
    ended = done(client, PAGE, **fields)
    assert ended["state"] == State.DONE, ended
    address: str = ended["gave"]["to"]
    return address


def shown(client: TestClient, address: str) -> Any:
    answer = client.get(address, headers=JSON)
    assert answer.status_code == 200, answer.text
    return answer.json()


def kept(shelf: Path) -> int:
    with Book.open(shelf / "medium.book", read_only=True) as book:
        return sum(one.stage is Stage.REHEARSED for one in book.observations())


def test_every_fault_can_be_chosen_with_its_cause_and_look(client: TestClient) -> None:
    form = client.get(f"{PAGE}.json").json()
    assert [one["name"] for one in form["faults"]] == list(FAULTS)
    page = unescape(client.get(PAGE).text)
    for fault in FAULTS.values():
        assert fault.cause in page
        assert fault.look in page
    assert "URU 39" in form["units"]
    assert form["kept"] == []


def test_a_sound_building_is_rehearsed_as_proved_and_stays_in_the_book(client: TestClient, shelf: Path) -> None:
    view = shown(client, rehearsed(client))
    assert view["registered_count"] == view["registering_count"] == 77  # 78 units, of which the gate registers nowhere
    assert view["calls_count"] == view["calls"]["total_count"] == sum(one["calls_count"] for one in view["entrances"])
    assert view["otherwise_count"] == 0
    assert view["faults"] == []
    assert not [one for one in view["seen"] if "URU" in str(one["where"])]
    assert kept(shelf) > 0


def test_a_wrong_secret_is_seen_where_it_is_and_nothing_stays_in_the_book(client: TestClient, shelf: Path) -> None:
    address = rehearsed(client, **{"at:wrong-secret": "URU 39"})
    view = shown(client, address)
    assert view["faults"] == [["SIP secret differs", "URU 39"]]
    assert {"what": "attempts seen at the registrar, answered 401 for ever", "where": ["URU 39"]} in view["seen"]
    assert view["wanted"]["went"] == "otherwise"
    assert view["calls"]["total_count"] == view["otherwise_count"] > 0
    assert all(not row["line"]["as_proved"] for row in view["calls"]["rows"])
    assert any("URU 39" in one["message"] for one in view["findings"]["rows"])
    assert kept(shelf) == 0
    text = client.get(address).text
    assert "Fault put in at <b>URU 39</b>" in text
    assert "otherwise" in text


def test_what_is_seen_with_a_fault_is_kept_where_that_is_wanted(client: TestClient, shelf: Path) -> None:
    rehearsed(client, fault="muted", keep="yes")
    assert kept(shelf) > 0


def test_calls_are_found_by_words_entrance_and_outcome_a_piece_at_a_time(client: TestClient) -> None:
    address = rehearsed(client, fault="key-wrong")
    everything = shown(client, f"{address}?went=all")
    assert len(everything["calls"]["rows"]) == 100
    rest = shown(client, f"{address}?went=all&from=200")
    assert rest["calls"]["rows"][0]["line"]["number"] == 201
    assert rest["calls"]["next_start"] is None
    gate = shown(client, f"{address}?went=all&entrance=Gate")
    assert {row["line"]["entrance"] for row in gate["calls"]["rows"]} == {"Gate"}
    busy = shown(client, f"{address}?went=proved&for=no+answer")
    assert busy["calls"]["rows"]
    assert all("no answer" in row["line"]["call"] and row["line"]["as_proved"] for row in busy["calls"]["rows"])
    assert "No call is like that" in client.get(f"{address}?for=nobody+at+all").text


def test_the_ladder_of_a_call_is_a_drawing_a_table_and_packets(client: TestClient) -> None:
    address = rehearsed(client)
    view = made(client, f"{address}/calls/1.json")
    assert view["call"]["number"] == 1
    steps = [one["what"] for one in view["steps"]]
    # RFC 3261 §4 (figure 1): INVITE, 180, 200, ACK, then BYE and its 200
    order = [next(i for i, what in enumerate(steps) if word in what) for word in ("INVITE", "180", "200", "ACK", "BYE")]
    assert order == sorted(order)
    assert not view["goes_otherwise"]
    page = client.get(f"{address}/calls/1").text
    assert "data-drawing" in page
    assert "<svg" in page
    sheet = client.get(f"{address}/calls/1.svg")
    assert sheet.headers["content-type"] == "image/svg+xml"
    packets = client.get(f"{address}/calls/1.pcapng")
    assert packets.content[:4] == bytes.fromhex("0a0d0d0a")  # block type of a section header, draft-ietf-opsawg-pcapng
    assert client.get(f"{address}/calls/0").status_code == 404
    assert client.get(f"{address}/calls/9999").status_code == 404
    assert client.get(f"{address}/calls/1.svg?sheet=99").status_code == 404


def test_a_plan_that_has_changed_makes_a_rehearsal_stale(client: TestClient, shelf: Path, means: Means) -> None:
    address = rehearsed(client, keep="no")
    assert not shown(client, address)["is_stale"]
    with Book.open(shelf / "medium.book") as book:
        head = book.head()
        renamed = replace(book.site(), name="Tallow Yard, as built")
        book.save(renamed, parent=head.number, by=means.who, at=means.now(), message="another name")
    assert shown(client, address)["is_stale"]
    assert "The plan has changed since" in client.get(address).text
    (line,) = client.get(f"{PAGE}.json").json()["kept"]
    assert line["is_stale"]
    assert made(client, f"{address}/calls/1.json")["is_stale"]


def test_the_last_few_are_kept_and_an_older_one_says_how_to_have_it_again(client: TestClient) -> None:
    addresses = [rehearsed(client, seed=str(seed), keep="no") for seed in range(KEPT_COUNT + 1)]
    lines = client.get(f"{PAGE}.json").json()["kept"]
    assert [line["address"] for line in lines] == addresses[:0:-1]
    gone = client.get(addresses[0])
    assert gone.status_code == 404
    assert "the same seed gives the same" in gone.text


@pytest.mark.parametrize(
    ("fields", "why"),
    [
        ({"fault": "gremlins"}, "there is no fault 'gremlins'"),
        ({"at:wrong-secret": "Nobody"}, "Nobody"),
        ({"at:registrar-full": "URU 39"}, "have this fault"),
    ],
)
def test_a_fault_that_cannot_be_is_refused(client: TestClient, fields: dict[str, str], why: str) -> None:
    ended = done(client, PAGE, **fields)
    assert ended["state"] == State.REFUSED
    assert why in ended["refused"] + str(ended["mistakes"])
    assert client.get(f"{PAGE}.json").json()["kept"] == []


def test_fields_that_cannot_be_read_are_told_all_at_once(client: TestClient) -> None:
    answer = client.post(PAGE, data={"seed": "-1", "delay_ms": "soon", "loss_percent": "51"})
    assert answer.status_code == 422
    for label in ("Seed", "Delay", "Loss"):
        assert f'<th scope="row">{label}</th>' in answer.text


def test_the_mains_fail_before_anybody_calls(client: TestClient) -> None:
    address = rehearsed(client, power_cut_min="10", keep="no")
    outage = shown(client, address)["outage"]
    assert outage.startswith("Power cut of 10 minutes")
    assert outage in unescape(client.get(address).text)


def test_the_steps_of_the_work_tell_how_many_registered_and_were_called(client: TestClient) -> None:
    begun = client.post(PAGE, data={"keep": "no"}, follow_redirects=False)
    job, steps = begun.headers["location"], set()
    for _ in range(100_000):
        value = client.get(f"{job}.json").json()
        steps.add(value["step"])
        if value["state"] == State.DONE:
            break
    assert any("of 77 units registered; " in step and " calls rehearsed" in step for step in steps)
