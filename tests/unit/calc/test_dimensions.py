"""Every formula follows when metre, kilogram, second and ampere change their size.

Temperatures, ratios, counts and bits stay as they are. A formula with a forgotten square, a sum of unlike quantities or
a hidden constant with a dimension does not survive this.
"""

import importlib
import pkgutil
from collections.abc import Callable, Iterator
from dataclasses import fields, is_dataclass
from inspect import signature
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import doorwright.calc
from doorwright.calc import dc
from doorwright.kernel.calculation import calculation, calculations_in, described
from doorwright.kernel.source import Cite
from doorwright.kernel.units import unit_of

EXEMPT = {
    "maximum_conductor_ohm_per_km": "a table look-up: the nominal area is the name of a size",
    "gauge_diameter_mm": "the gauge is the name of a size; its defining 0.127 mm is a constant with a dimension",
    "gauge_area_mm2": "the gauge is the name of a size",
    "one_ampere_runtime_h": "the capacity is quoted at one ampere, a constant with a dimension",
    "speech_rating": "constants of the E-model have the dimension of time and level",
    "delay_impairment_points": "constants of the E-model have the dimension of time",
    "short_rating_points": "constants of the reduced model have the dimension of time",
    "speech_stream": "headers are counted in bytes, the rate in kilobits per second",
    "picture_stream": "headers are counted in bytes, the rate in kilobits per second",
    "gauge_ohm_per_km": "the gauge is the name of a size; resistivity is a constant with a dimension",
}

positive = st.floats(min_value=0.01, max_value=100.0)
INPUTS: dict[str, st.SearchStrategy[Any]] = {
    "temperature_c": st.floats(min_value=-10.0, max_value=70.0),
    "battery_c": st.floats(min_value=-6.7, max_value=50.0),
    "prefix_bit": st.integers(min_value=0, max_value=32),
    "pairs_count": st.sampled_from([2, 4]),
    "length_count": st.integers(min_value=1, max_value=64),
    "alphabet_count": st.integers(min_value=2, max_value=94),
    "screened": st.booleans(),
    "conductor_ohm_per_km": positive,
    "channel_ohm_per_km": positive,
    "length_m": positive,
    "reference_m": positive,
    "source_v": positive,
    "port_v": positive,
    "load_a": positive,
    "load_w": positive,
    "port_w": positive,
    "device_w": positive,
    "loop_ohm": positive,
    "impairment_points": positive,
    "rating_points": positive,
    "robustness_percent": positive,
    "loss_percent": positive,
    "burst_ratio": st.floats(min_value=1.0, max_value=4.0),
    "sender_ms": positive,
    "packet_ms": positive,
    "hop_delay_ms": positive,
    "jitter_buffer_ms": positive,
    "receiver_ms": positive,
    "hop_count": st.integers(min_value=0, max_value=9),
    "down_kbps": positive,
    "up_kbps": positive,
    "link_mbps": positive,
    "call_kbps": positive,
    "limit_ratio": st.floats(min_value=0.1, max_value=1.0),
    "near_v": positive,
    "current_a": positive,
    "node_v": positive,
    "fixed_a": positive,
    "power_w": positive,
    "load_ohm": positive,
    "standing_a": positive,
    "peak_a": positive,
    "fuse_a": positive,
    "open_v": positive,
    "carried_a": positive,
    "closing_a": positive,
    "rated_v": positive,
    "rated_a": positive,
    "rated_closing_a": positive,
    "horizontal_m": positive,
    "near_cords_m": positive,
    "channel_m": positive,
    "most_m": positive,
    "rise_ratio": st.floats(min_value=0.0, max_value=1.0),
    "duration_h": positive,
    "standby_a": positive,
    "standby_h": positive,
    "busy_a": positive,
    "busy_h": positive,
    "charge_ah": positive,
    "capacity_ah": positive,
    "rate_h": positive,
    "block_v": positive,
    "block_ah": positive,
    "series_count": st.integers(min_value=1, max_value=8),
    "parallel_count": st.integers(min_value=1, max_value=8),
    "high_rate_ratio": st.floats(min_value=1.0, max_value=2.0),
    "margin_ratio": st.floats(min_value=1.0, max_value=2.0),
    "cold_ratio": st.floats(min_value=1.0, max_value=2.0),
    "reserved_w": positive,
    "varying_w": positive,
    "largest_w": positive,
    "diversity_ratio": st.floats(min_value=0.0, max_value=1.0),
    "own_draw_w": positive,
    "ports_w": positive,
    "efficiency_ratio": st.floats(min_value=0.1, max_value=1.0),
    "ageing_ratio": st.floats(min_value=0.1, max_value=1.0),
    "temperature_ratio": st.floats(min_value=0.1, max_value=1.0),
    "peukert_exponent": st.floats(min_value=1.0, max_value=1.6),
    "offered_erl": positive,
    "idle_source_erl": positive,
    "source_erl": st.floats(min_value=0.01, max_value=0.99),
    "lines_count": st.integers(min_value=1, max_value=50),
    "sources_count": st.integers(min_value=1, max_value=50),
    "positions_count": st.integers(min_value=1, max_value=50),
    "dwellings_count": st.integers(min_value=1, max_value=1000),
    "day_calls_count": positive,
    "goal_ratio": st.floats(min_value=0.001, max_value=0.9),
    "answer_ratio": st.floats(min_value=0.0, max_value=1.0),
    "busy_ratio": st.floats(min_value=0.01, max_value=1.0),
    "answer_s": positive,
    "talk_s": positive,
    "ring_limit_s": positive,
    "hold_s": positive,
    "busy_s": positive,
    "wait_s": positive,
    "patience_s": positive,
}
BASES = st.tuples(*(st.floats(min_value=0.1, max_value=10.0) for _ in range(4)))


def every_calculation() -> Iterator[Callable[..., Any]]:
    for module in pkgutil.iter_modules(doorwright.calc.__path__):
        yield from calculations_in(importlib.import_module(f"doorwright.calc.{module.name}"))


def scale(name: str, value: Any, bases: tuple[float, ...]) -> Any:
    unit = unit_of(name)
    if unit is None or not any(unit.exponents):
        return value
    factor = 1.0
    for base, exponent in zip(bases, unit.exponents, strict=True):
        factor *= base**exponent
    return value * factor


def results(function: Callable[..., Any], inputs: dict[str, Any]) -> tuple[str, dict[str, float]]:
    result = function(**inputs)
    if is_dataclass(result):
        return type(result).__name__, {field.name: getattr(result, field.name) for field in fields(result)}
    name = described(function).id
    assert unit_of(name) is not None, f"{name} carries no unit in its name"
    return "number", {name: result}


def follows(function: Callable[..., Any], inputs: dict[str, Any], bases: tuple[float, ...]) -> bool:
    """Say whether the results of rescaled inputs are the rescaled results."""
    form, plain = results(function, inputs)
    scaled_form, scaled = results(function, {name: scale(name, value, bases) for name, value in inputs.items()})
    if form != scaled_form:
        return False
    largest = max(abs(value) for value in plain.values())
    return all(
        scaled[name] == pytest.approx(scale(name, value, bases), rel=1e-6, abs=scale(name, 1e-9 * largest, bases))
        for name, value in plain.items()
    )


@pytest.mark.parametrize(
    "function",
    [function for function in every_calculation() if described(function).id not in EXEMPT],
    ids=lambda function: str(described(function).id),
)
@given(data=st.data(), bases=BASES)
def test_results_follow_the_units(function: Callable[..., Any], data: st.DataObject, bases: tuple[float, ...]) -> None:
    inputs = {name: data.draw(INPUTS[name], label=name) for name in signature(function).parameters}
    assert follows(function, inputs, bases)


def test_exemptions_name_calculations_and_reasons() -> None:
    known = {described(function).id for function in every_calculation()}
    assert set(EXEMPT) <= known
    assert all(EXEMPT.values())


def test_a_forgotten_square_would_be_seen() -> None:
    @calculation("Wrong on purpose", Cite("ohm1827"))
    def lost_w(*, load_a: float, loop_ohm: float) -> float:
        return load_a * loop_ohm

    inputs = {"load_a": 2.0, "loop_ohm": 3.0}
    assert not follows(lost_w, inputs, (1.0, 1.0, 1.0, 2.0))
    assert follows(dc.constant_current_feed, {"source_v": 12.0, **inputs}, (1.0, 1.0, 1.0, 2.0))
