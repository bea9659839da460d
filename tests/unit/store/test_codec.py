import json
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from doorwright.kernel.errors import Refused
from doorwright.model.door import LockKind
from doorwright.model.place import Building
from doorwright.model.site import PARTS, NumberScheme, Site
from doorwright.store import codec

FORM_1 = (Path(__file__).parent / "documents" / "form-1.json").read_bytes()


def test_a_document_of_form_1_opens_and_means_what_it_meant() -> None:
    site = codec.load(FORM_1)

    # Each value stands in documents/form-1.json.
    assert site.name == "Invented Wharf"
    assert site.choices.number_scheme is NumberScheme.LEVEL
    assert site.notes == (("survey", "keys at the lodge – ask for the porter"),)
    assert site.doors[0].lock is LockKind.MAGNET
    assert site.dwellings[1].door_label == "Flat 2½"
    assert site.timetables[0].windows[0].days == (0, 1, 2, 3, 4)
    assert site.profiles[0].firmware[1].keeps_settings is False
    assert str(site.prices[0].amount) == "210.50"  # to the last digit
    assert [len(site.table(kind)) for kind in PARTS] == [1, 1, 2, 5, 2, 1, 2, 3, 1, 2, 2, 1, 1, 1, 1, 1, 2, 3, 2, 1, 2]


def test_a_document_says_everything_that_was_read() -> None:
    site = codec.load(FORM_1)

    assert codec.load(codec.dump(site)) == site
    assert json.loads(codec.dump(site)) == json.loads(FORM_1)


def test_the_stored_document_uses_every_field_of_its_form() -> None:
    used: set[tuple[type, str]] = set()

    def visit(value: Any) -> None:
        if is_dataclass(value):
            for field in fields(value):
                inner = getattr(value, field.name)
                if inner != field.default:
                    used.add((type(value), field.name))
                visit(inner)
        elif isinstance(value, tuple):
            for inner in value:
                visit(inner)

    visit(codec.load(FORM_1))

    unused = {
        (kind.__name__, field.name)
        for kind in {kind for kind, _ in used}
        for field in fields(kind)
        if (kind, field.name) not in used and field.name != "notes"
    }
    assert unused == set()


def test_unknown_fields_are_reported_at_every_depth_and_all_at_once() -> None:
    body = json.loads(FORM_1)
    body["colour"] = "red"
    body["site"]["colour"] = "red"
    body["site"]["choices"]["colour"] = "red"
    body["site"]["units"][1]["colour"] = "red"
    body["site"]["timetables"][0]["windows"][0]["colour"] = "red"

    with pytest.raises(Refused) as caught:
        codec.load(json.dumps(body).encode())

    assert {mistake.problem for mistake in caught.value.mistakes} == {"unknown field"}
    assert sorted(mistake.where for mistake in caught.value.mistakes) == [
        "colour",
        "site.choices.colour",
        "site.colour",
        "site.timetables.0.windows.0.colour",
        "site.units.1.colour",
    ]


def test_wrong_values_are_reported_all_at_once_with_their_place() -> None:
    body = json.loads(FORM_1)
    body["site"]["grade"] = "high"
    body["site"]["doors"][0]["lock"] = "bolt"
    del body["site"]["dwellings"][0]["core"]
    body["site"]["runs"][0]["length_m"] = float("inf")  # json writes Infinity, which some programs do

    with pytest.raises(Refused) as caught:
        codec.load(json.dumps(body).encode())

    assert {mistake.where for mistake in caught.value.mistakes} == {
        "site.grade",
        "site.doors.0.lock",
        "site.dwellings.0.core",
        "site.runs.0.length_m",
    }


def test_two_parts_of_one_kind_may_not_share_an_identifier() -> None:
    twins = Site(name="Twins", buildings=(Building(id="b", name="East"), Building(id="b", name="West")))

    with pytest.raises(Refused) as caught:
        codec.load(codec.dump(twins))

    assert str(caught.value.mistakes[0]).startswith("site.buildings: 2 parts have this identifier (read: b)")


@pytest.mark.parametrize(
    ("document", "message"),
    [
        (b"", "not a Doorwright document"),
        (b"\xff\xfe", "not a Doorwright document"),
        (b"[1, 2]", "no form number"),
        (b'{"form": true, "site": {"name": "x"}}', "no form number"),
        (b'{"form": 0, "site": {"name": "x"}}', "forms count from 1"),
        (b'{"form": 99, "site": {"name": "x"}}', "form 99; this Doorwright reads forms up to"),
        (b"[" * 100_000, "not a Doorwright document"),
    ],
)
def test_what_is_no_document_is_refused(document: bytes, message: str) -> None:
    with pytest.raises(Refused, match=message):
        codec.load(document)


def test_the_schema_takes_the_stored_document_and_refuses_an_unknown_field() -> None:
    validator = jsonschema.Draft202012Validator(codec.document_schema())
    body = json.loads(FORM_1)

    assert list(validator.iter_errors(body)) == []
    body["site"]["units"][0]["colour"] = "red"
    assert [list(error.path) for error in validator.iter_errors(body)] == [["site", "units", 0]]


def test_a_value_that_json_cannot_hold_does_not_pass_unseen() -> None:
    site = codec.load(FORM_1)
    infinite = replace(site, runs=(replace(site.runs[0], length_m=float("inf")),))

    with pytest.raises(Refused, match="wrong values"):
        codec.load(codec.dump(infinite))
