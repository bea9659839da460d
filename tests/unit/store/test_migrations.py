from collections.abc import Callable
from typing import Any

import pytest

from doorwright.store import bookfile, codec
from doorwright.store.migrations import (
    DOCUMENT_LIFTS,
    SCHEMA_LIFTS,
    Document,
    lift_document,
    schema_statements,
)


def test_every_older_form_and_schema_has_its_step() -> None:
    assert sorted(DOCUMENT_LIFTS) == list(range(1, codec.FORM))
    assert sorted(SCHEMA_LIFTS) == list(range(1, bookfile.SCHEMA))


def test_a_document_climbs_one_form_at_a_time() -> None:
    def rename(document: Document) -> Document:
        site: dict[str, Any] = dict(document["site"])
        return {**document, "site": {"name": site.pop("title"), **site}}

    def shout(document: Document) -> Document:
        return {**document, "site": {**document["site"], "name": document["site"]["name"].upper()}}

    lifts: dict[int, Callable[[Document], Document]] = {1: rename, 2: shout}

    assert lift_document({"form": 1, "site": {"title": "quay"}}, 3, lifts) == {"form": 3, "site": {"name": "QUAY"}}
    assert lift_document({"form": 2, "site": {"name": "quay"}}, 3, lifts) == {"form": 3, "site": {"name": "QUAY"}}
    assert lift_document({"form": 3, "site": {"name": "quay"}}, 3, lifts) == {"form": 3, "site": {"name": "quay"}}


def test_the_codec_lifts_before_it_reads(monkeypatch: pytest.MonkeyPatch) -> None:
    def rename(document: Document) -> Document:
        return {"site": {"name": document["site"]["title"]}, "form": 1}

    monkeypatch.setattr(codec, "FORM", 2)
    monkeypatch.setattr(codec, "lift_document", lambda document, to: lift_document(document, to, {1: rename}))

    assert codec.load(b'{"form": 1, "site": {"title": "quay"}}').name == "quay"


def test_the_steps_of_a_book_come_in_order() -> None:
    lifts = {1: ("A", "B"), 2: ("C",)}

    assert schema_statements(1, 3, lifts) == ("A", "B", "C")
    assert schema_statements(2, 3, lifts) == ("C",)
    assert schema_statements(3, 3, lifts) == ()
