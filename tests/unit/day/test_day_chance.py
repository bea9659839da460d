"""One stream for each component: apart from the others, and the same everywhere."""

import os
import subprocess
import sys
from math import inf

import numpy as np
import pytest

from doorwright.day.chance import Length, stream_of

PROGRAM = "from doorwright.day.chance import stream_of; print(stream_of(7, 'talk', 3).random(4).tolist())"


def test_streams_are_the_same_in_every_process() -> None:
    said = {
        subprocess.run(
            [sys.executable, "-c", PROGRAM], check=True, stdout=subprocess.PIPE, text=True,
            env={**os.environ, "PYTHONHASHSEED": salt},
        ).stdout
        for salt in ("1", "2")
    }  # fmt: skip
    assert said == {f"{stream_of(7, 'talk', 3).random(4).tolist()}\n"}


def test_streams_differ_by_seed_component_and_group() -> None:
    first = {
        stream_of(seed, component, group).random()
        for seed in (1, 2) for component in ("talk", "answer") for group in (0, 1)
    }  # fmt: skip
    assert len(first) == 8


@pytest.mark.parametrize("variation_ratio", [0.0, 0.5, 1.0, 2.0])
def test_lengths_have_the_stated_mean_and_deviation(variation_ratio: float) -> None:
    drawn = Length(mean_s=30.0, variation_ratio=variation_ratio).draw(stream_of(1, "talk", 0), (4000, 50))
    # 200 000 lengths: the mean lies within 5 deviations of the mean, 30·v/√200 000
    assert drawn.mean(dtype=np.float64) == pytest.approx(30.0, abs=5 * 30 * variation_ratio / 200_000**0.5 + 1e-4)
    assert drawn.std(dtype=np.float64) == pytest.approx(30.0 * variation_ratio, rel=0.05)


@pytest.mark.parametrize("variation_ratio", [0.0, 0.5, 1.0])
def test_more_visitors_begin_with_the_same(variation_ratio: float) -> None:
    length = Length(mean_s=30.0, variation_ratio=variation_ratio)
    few, many = (length.draw(stream_of(1, "talk", 0), (rows, 50)) for rows in (10, 30))
    assert (many[:10] == few).all()


def test_a_length_that_no_time_has_is_refused() -> None:
    for mean_s, variation_ratio in ((-1.0, 1.0), (1.0, -0.1), (1.0, inf), (float("nan"), 1.0)):
        with pytest.raises(ValueError, match="no length"):
            Length(mean_s=mean_s, variation_ratio=variation_ratio)
