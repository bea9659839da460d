"""Remedies on pages name pages, never commands."""

import pytest

from doorwright.kernel.errors import Mistake
from doorwright.web.remedies import mistakes_on_page, on_page


@pytest.mark.parametrize(
    ("remedy", "told"),
    [
        ("Names are in: doorwright show BOOK units", "Names are in the table Units"),
        ("Names are in: doorwright show BOOK", "Names are in the tables"),
        ("Write its name: doorwright show BOOK switches.", "Write its name in the table Switches."),
        ("Set a passphrase: doorwright vault BOOK passphrase", "Set a passphrase on the page Secrets"),
        ("See what it finds: doorwright check /srv/a.book --rule lock-starved", "See what it finds on the page Check"),
        ("Give the command again.", "Correct it, and send it again."),
        ("Add somebody: doorwright people f.json add NAME", "Add somebody: doorwright people f.json add NAME"),
        ("Write digits alone.", "Write digits alone."),
    ],
)  # fmt: skip
def test_a_command_becomes_the_page_on_which_the_same_is_done(remedy: str, told: str) -> None:
    assert on_page(remedy) == told


def test_an_option_becomes_the_field_of_that_name() -> None:
    wrong = Mistake(where="--part", read="Nowhere", problem="no such door", remedy="Name it: --part LABEL")
    (told,) = mistakes_on_page([wrong])
    assert (told.where, told.remedy) == ("Part", "Name it: in its field")
    cell = Mistake(where='sheet "Flats", row 3', read="x", problem="p", remedy="r")
    assert mistakes_on_page([cell]) == (cell,)
