"""Heights for controls. Ranges as the sources give them (ADA seen; AD M and BS 8300 second-hand)."""

import pytest

from doorwright.plan.reach import REACHES, reach_notes
from tests.unit.plan.block import unit


@pytest.mark.parametrize(
    ("name", "low_mm", "high_mm"),
    [
        ("ADA", 380, 1220),  # 15 to 48 in, 308.2.1
        ("AD M vol. 2", 750, 1200),  # paragraph 4.30
        ("AD M vol. 1", 900, 1000),  # M4(2), M4(3) communal entrance
        ("BS 8300", 750, 1000),  # 10.5.2 of 2001
    ],
)
def test_ranges_are_those_of_the_sources(name: str, low_mm: int, high_mm: int) -> None:
    (one,) = (one for one in REACHES if one.name == name)
    assert (one.low_mm, one.high_mm) == (low_mm, high_mm)
    assert one.holds(low_mm)
    assert one.holds(high_mm)
    assert not one.holds(high_mm + 1)


def test_a_planned_height_is_compared_with_each_source_and_the_code_decides() -> None:
    text = " ".join(reach_notes(unit("vcu A", height_mm=1150)))
    assert "planned at 1150 mm" in text
    assert text.count(": within") == 2  # ADA and AD M vol. 2
    assert text.count(": outside") == 2
    assert text.endswith("The local code decides.")
    assert ": within" not in " ".join(reach_notes(unit("vcu A")))
