"""`doorwright rehearse` on the medium example: what it says, its exit codes, its JSON, its trace."""

import json
from pathlib import Path

from tests.unit.cli.conftest import Doorwright

# The medium example by its README: 64 receivers, eight further ones, five call units, a desk; all but the first call
# unit register.
REGISTERING_COUNT = 64 + 8 + 5 + 1 - 1
LINE_KEYS = {"at_s", "from", "to", "packet", "lost", "at", "happened", "about"}


def test_the_planned_example_goes_as_the_proof_says(doorwright: Doorwright, book: Path) -> None:
    ran = doorwright("rehearse", str(book), "--json")
    assert ran.json["otherwise"] == []
    # its README: the cable to the lock of the cycle store is too long for its wire. Nothing else is seen.
    assert ran.json["seen"] == [{"at": "Cycle store", "what": "lock clicks but holds", "about": ""}]
    assert ran.code == 1
    ran = doorwright("rehearse", str(book))
    assert f"{REGISTERING_COUNT} of {REGISTERING_COUNT} units registered" in ran.out


def test_the_mains_fail_and_all_come_back(doorwright: Doorwright, book: Path) -> None:
    ran = doorwright("rehearse", str(book), "--power-cut", "30", "--no-keep")
    # its switches and units have no supply with a battery: all 78 go dark, and all are back
    units_count = REGISTERING_COUNT + 1
    assert f"Power cut of 30 minutes: 0 of {units_count} stayed up; {units_count} on line again within" in ran.out
    assert f"{units_count} units dark at once: on the mains alone" in ran.out
    assert ran.code == 1


def test_a_fault_is_seen_and_told_and_traced(doorwright: Doorwright, book: Path, tmp_path: Path) -> None:
    trace = tmp_path / "calls.jsonl"
    ran = doorwright("rehearse", str(book), "--fault", "wrong-secret:URU 12", "--trace", str(trace), "--json")
    assert ran.code == 1
    told = ran.json
    assert told["faults"] == [{"fault": "wrong-secret", "cause": "SIP secret differs", "at": "URU 12"}]
    seen = {"at": "URU 12", "what": "attempts seen at the registrar, answered 401 for ever", "about": ""}
    assert seen in told["seen"]
    assert all("12" in one["call"] for one in told["otherwise"])
    assert {one["rule"] for one in told["findings"]} == {"found-not-registered", "found-call-differs"}
    stages = {one["stage"] for one in told["observations"]}
    assert stages == {"rehearsed"}
    lines = [json.loads(line) for line in trace.read_text(encoding="utf-8").splitlines()]
    assert all(set(line) <= LINE_KEYS for line in lines)
    assert [line["at_s"] for line in lines] == sorted(line["at_s"] for line in lines)
    registers = [line for line in lines if str(line.get("packet", "")).startswith("REGISTER ")]
    # each unit asks twice, without and with credentials; the one with the wrong secret goes on asking
    assert len(registers) > 2 * REGISTERING_COUNT
    assert "Digest" not in trace.read_text(encoding="utf-8")


def test_a_fault_that_is_none_is_refused_with_those_that_are(doorwright: Doorwright, book: Path) -> None:
    ran = doorwright("rehearse", str(book), "--fault", "wrong-secre")
    assert ran.code == 2
    assert "wrong-secret" in ran.err


def test_a_fault_that_does_not_fit_a_unit_is_refused(doorwright: Doorwright, book: Path) -> None:
    ran = doorwright("rehearse", str(book), "--fault", "key-wrong:URU 12")
    assert ran.code == 2
    assert "URU 12" in ran.err


def test_a_unit_that_is_none_is_refused(doorwright: Doorwright, book: Path) -> None:
    ran = doorwright("rehearse", str(book), "--fault", "port-off:URU 1222")
    assert ran.code == 2
    assert "URU 1222" in ran.err


def test_the_book_stays_as_it_was(doorwright: Doorwright, book: Path) -> None:
    before = book.read_bytes()
    doorwright("rehearse", str(book), "--fault", "port-off")
    assert book.read_bytes() == before
