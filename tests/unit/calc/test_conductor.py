import pytest

from doorwright.calc.cable import CableUse, cable_kinds
from doorwright.calc.conductor import ConductorForm, maximum_conductor_ohm_per_km


def test_an_area_that_the_table_lacks_is_named_with_those_it_has() -> None:
    with pytest.raises(LookupError, match=r"no conductor of 3 mm².*0\.5, 0\.75, 1, 1\.5, 2\.5, 4 mm²"):
        maximum_conductor_ohm_per_km(nominal_mm2=3.0, form=ConductorForm.SOLID)


def test_nominal_area_is_optimistic_as_the_standard_warns() -> None:
    # IEC 60228 maxima against 17.241/A: 4 to 7 % more for class 1, 13 to 16 % for class 5 (recomputed)
    for nominal_mm2 in (0.5, 0.75, 1.0, 1.5, 2.5, 4.0):
        naive_ohm_per_km = 17.241 / nominal_mm2
        solid = maximum_conductor_ohm_per_km(nominal_mm2=nominal_mm2, form=ConductorForm.SOLID)
        flexible = maximum_conductor_ohm_per_km(nominal_mm2=nominal_mm2, form=ConductorForm.FLEXIBLE)
        assert 1.04 <= solid / naive_ohm_per_km <= 1.075
        assert 1.125 <= flexible / naive_ohm_per_km <= 1.165


def test_every_cable_has_a_title_and_a_resistance() -> None:
    kinds = cable_kinds()
    assert len({kind.title for kind in kinds.values()}) == len(kinds)
    for kind in kinds.values():
        if kind.use is CableUse.OPTICAL:
            assert kind.conductor_ohm_per_km == float("inf")
        else:
            assert 1.0 < kind.conductor_ohm_per_km < 150.0, kind.key


@pytest.mark.parametrize(
    ("key", "expected_ohm_per_km", "use"),
    [
        ("2x1.5", 13.3, CableUse.POWER),  # IEC 60228 class 5 (secondary)
        ("2x1.5-solid", 12.1, CableUse.POWER),  # IEC 60228 class 1 (secondary)
        ("data-24awg", 84.21, CableUse.DATA),  # ASTM B258 (recomputed)
        ("2x18awg-solid", 20.95, CableUse.POWER),  # ASTM B258 (secondary)
        ("2x18awg", 21.37, CableUse.POWER),  # the same × 1.02 for the lay (ASTM B8, memory)
        ("cat6", 93.8, CableUse.DATA),  # TIA-568.2: 9.38 ohm per 100 m (memory)
    ],
)
def test_cables_find_their_conductor(key: str, expected_ohm_per_km: float, use: CableUse) -> None:
    kind = cable_kinds()[key]
    assert kind.conductor_ohm_per_km == pytest.approx(expected_ohm_per_km, rel=1e-3)
    assert kind.use is use


def test_screened_cables_say_so() -> None:
    assert {key for key, kind in cable_kinds().items() if kind.screened} == {
        key for key in cable_kinds() if key.endswith("-screened")
    }
