"""The unit that a name carries."""

import pytest

from doorwright.kernel.units import UNITS, unit_of


@pytest.mark.parametrize(
    ("name", "symbol"),
    [
        ("length_m", "m"),
        ("drop_v", "V"),
        ("conductor_ohm_per_km", "Ω/km"),  # the longest suffix counts: not kilometres
        ("nominal_mm2", "mm²"),
        ("width_mm", "mm"),
        ("battery_ah", "Ah"),
        ("copper_per_k", "1/K"),
        ("v", "V"),
    ],
)
def test_the_longest_suffix_is_the_unit(name: str, symbol: str) -> None:
    found = unit_of(name)
    assert found is not None
    assert found.symbol == symbol


@pytest.mark.parametrize("name", ["length", "form", "tinned", "beam", "alarm", "m_length", ""])
def test_a_name_without_suffix_carries_no_unit(name: str) -> None:
    assert unit_of(name) is None


def test_dimensions_agree_with_the_definitions_of_the_si() -> None:
    # BIPM, The International System of Units, 9th edition, Table 4 (from memory):
    # V = kg m2 s-3 A-1, W = kg m2 s-3, ohm = kg m2 s-3 A-2; Ah is A s and Wh is J = kg m2 s-2.
    assert UNITS["v"].exponents == (2, 1, -3, -1)
    assert UNITS["w"].exponents == (2, 1, -3, 0)
    assert UNITS["ohm"].exponents == (2, 1, -3, -2)
    assert UNITS["ah"].exponents == (0, 0, 1, 1)
    assert UNITS["wh"].exponents == (2, 1, -2, 0)


def test_ohms_law_and_power_hold_between_dimensions() -> None:
    volt, ampere, ohm, watt = (UNITS[name].exponents for name in ("v", "a", "ohm", "w"))
    assert tuple(a + r for a, r in zip(ampere, ohm, strict=True)) == volt
    assert tuple(a + v for a, v in zip(ampere, volt, strict=True)) == watt
