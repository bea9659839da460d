"""The command that tells why a plan is not complete, on a book whose two doors read the same."""

from datetime import UTC, datetime
from pathlib import Path

import pytest

from doorwright.model.site import NumberPrefix, Site
from doorwright.store.book import Book
from tests.unit.cli.conftest import Doorwright
from tests.unit.plan.block import block, plus, set_profile
from tests.unit.plan.test_numbering_conflicts import TWELVES, gated

NOW = datetime(2026, 1, 5, 9, 0, tzinfo=UTC)


def book_of(folder: Path, site: Site) -> Path:
    book_path = folder / "why.book"
    with Book.create(book_path, site, by="Somebody", at=NOW, message="made"):
        pass
    return book_path


def test_causes_and_remedies_of_a_conflict_are_told(doorwright: Doorwright, tmp_path: Path) -> None:
    ran = doorwright("why", book_of(tmp_path, gated(TWELVES, number_prefix=NumberPrefix.NONE)))
    assert ran.code == 0
    assert "both read 12" in ran.out
    assert "Without any one of these there would be a way:" in ran.out
    assert "fits, needs 3 digits: prefix 'core'" in ran.out


def test_a_group_that_outgrew_its_primary_is_told_with_its_split(doorwright: Doorwright, tmp_path: Path) -> None:
    site = set_profile(block({"A": {1: ["1", "2", "3"]}}), "vcu-directory", registrations_max_count=2)
    (one,) = doorwright("why", book_of(tmp_path, site), "--json").json
    assert "takes 2 registrations; 1 more" in one["problem"]
    assert "a further visitor call unit at Entrance A becomes a primary" in one["remedy"]


@pytest.mark.parametrize("site", [plus(block({"A": {1: ["1"]}}))])
def test_where_all_can_be_planned_that_is_said(doorwright: Doorwright, tmp_path: Path, site: Site) -> None:
    ran = doorwright("why", book_of(tmp_path, site))
    assert "Nothing keeps" in ran.out
