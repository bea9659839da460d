"""The tables of diverts and release rights name entrances, cores and timetables as people call them."""

from pathlib import Path

from tests.unit.cli.conftest import Doorwright


def test_diverts_and_rights_of_the_example(doorwright: Doorwright, book: Path) -> None:
    # as examples/medium/write.py writes them
    diverts = doorwright("show", book, "diverts", "--json").json["rows"]
    assert [list(row.values()) if isinstance(row, dict) else row for row in diverts] == [
        ["33", "everywhere", "always", "always", "34"],
        ["60", "everywhere", "always", "Concierge hours", "Concierge desk"],
        ["all", "Entrance B", "no answer", "always", "Concierge desk"],
    ]
    (right,) = doorwright("show", book, "rights", "--json").json["rows"]
    shown = list(right.values()) if isinstance(right, dict) else right
    assert shown == ["Entrance C", "Cycle store", "Stair C, Concierge desk", "always"]
