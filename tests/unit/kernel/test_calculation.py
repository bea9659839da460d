"""What makes a function a calculation, and one run of it."""

import types
from dataclasses import dataclass

import pytest

from doorwright.kernel.calculation import Quantity, calculation, calculations_in, described, work
from doorwright.kernel.source import Cite

OHM = Cite("ohm1827")


@calculation("Voltage over a resistance", OHM)
def drop_v(*, current_a: float, loop_ohm: float) -> float:
    """Return the voltage over a resistance.

    Formula: U = I·R.
    """
    return current_a * loop_ohm


@dataclass(frozen=True)
class Both:
    drop_v: float
    lost_w: float


@calculation("Voltage and loss", OHM)
def both(*, current_a: float, loop_ohm: float, wiring: str) -> Both:
    """Return the voltage over a resistance and the power lost in it."""
    del wiring
    return Both(current_a * loop_ohm, current_a * current_a * loop_ohm)


def test_it_is_described_by_title_inputs_text_and_cites() -> None:
    known = described(drop_v)
    assert (known.id, known.title, known.inputs) == ("drop_v", "Voltage over a resistance", ("current_a", "loop_ohm"))
    assert known.cites == (OHM,)
    assert "Formula: U = I·R." in known.text


def test_without_a_source_it_is_refused() -> None:
    with pytest.raises(TypeError, match="'Guess' has no source"):
        calculation("Guess")


def test_a_positional_argument_is_refused() -> None:
    def positional(current_a: float) -> float:
        return current_a

    with pytest.raises(TypeError, match="positional: current_a must be keyword-only"):
        calculation("Positional", OHM)(positional)


@pytest.mark.parametrize("kind", [float, int])
def test_a_number_without_a_unit_is_refused(kind: type) -> None:
    def bare(*, length: float) -> float:
        return length

    bare.__annotations__["length"] = kind
    with pytest.raises(TypeError, match="bare: length carries no unit"):
        calculation("Bare", OHM)(bare)


def test_work_keeps_inputs_and_the_result() -> None:
    done = work(drop_v, current_a=2.0, loop_ohm=3.0)  # 2 A through 3 ohm is 6 V
    assert done.calculation is described(drop_v)
    assert done.inputs == (Quantity("current_a", 2.0), Quantity("loop_ohm", 3.0))
    assert done.results == (Quantity("drop_v", 6.0),)


def test_work_names_each_field_of_a_result_and_says_words_as_text() -> None:
    done = work(both, current_a=2.0, loop_ohm=3.0, wiring="loop")  # 6 V and 2²·3 = 12 W
    assert done.results == (Quantity("drop_v", 6.0), Quantity("lost_w", 12.0))
    assert done.inputs[-1] == Quantity("wiring", "loop")


def test_calculations_of_a_module_are_those_written_in_it() -> None:
    module = types.ModuleType(__name__)
    foreign = types.FunctionType(drop_v.__code__, {}, "foreign")
    foreign.__dict__.update(drop_v.__dict__)
    foreign.__module__ = "elsewhere"
    vars(module).update(drop_v=drop_v, foreign=foreign, both=both, number=1)
    assert list(calculations_in(module)) == [drop_v, both]
