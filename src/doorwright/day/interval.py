"""Means over many days, and how far off they may be.

A figure is a sum over a sum: blocked visitors over visitors, seconds waited over those who waited. Days are
independent, so the interval comes from how the days scatter about the common ratio (the ratio estimator: Cochran,
Sampling techniques, chapter 6; from memory), with Student's t.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import atan, cos, fsum, inf, nan, pi, sin, sqrt
from statistics import NormalDist
from typing import Final

import numpy as np

from doorwright.day.chance import Times

USUAL_RATIO: Final = 0.95
_SERIES_UP_TO: Final = 200


@dataclass(frozen=True, slots=True)
class Estimate:
    """A mean and the interval that holds the true value with the stated confidence.

    ``mean`` is nan where there was nothing to count; the interval is endless where a single day says nothing of
    scatter.
    """

    mean: float
    low: float
    high: float

    @property
    def half(self) -> float:
        """Half the width of the interval."""
        return (self.high - self.low) / 2.0

    def holds(self, value: float) -> bool:
        """Say whether the interval holds ``value``."""
        return self.low <= value <= self.high


@dataclass(frozen=True, slots=True, eq=False)
class Tally:
    """What was counted on each day, and of how many: ``counted`` and ``of`` have one entry a day."""

    counted: Times
    of: Times

    def estimate(self, confidence_ratio: float = USUAL_RATIO) -> Estimate:
        """Return the ratio of both sums with its interval."""
        if not self.of.sum() > 0.0:
            return Estimate(nan, nan, nan)
        return _estimate(self.ratio(), self.scatter(), confidence_ratio)

    def less(self, other: "Tally", confidence_ratio: float = USUAL_RATIO) -> Estimate:
        """Return this ratio less another of the same days under another design: a paired comparison.

        Where both designs met the same visitors, the days' scatter cancels and the interval is narrow.
        """
        if self.of.shape != other.of.shape:
            raise ValueError("only figures of the same days can be compared day by day")
        if not (self.of.sum() > 0.0 and other.of.sum() > 0.0):
            return Estimate(nan, nan, nan)
        return _estimate(self.ratio() - other.ratio(), self.scatter() - other.scatter(), confidence_ratio)

    def ratio(self) -> float:
        """Return the sum of what was counted over the sum of what it was counted of."""
        return float(self.counted.sum() / self.of.sum())

    def scatter(self) -> Times:
        """Return how far each day lies from the common ratio, as a share of it."""
        scatter: Times = (self.counted - self.ratio() * self.of) / self.of.mean()
        return scatter


def _estimate(mean: float, scatter: Times, confidence_ratio: float) -> Estimate:
    days_count = scatter.size
    if days_count < 2:
        return Estimate(mean, -inf, inf)
    deviation = sqrt(float(np.square(scatter).sum()) / (days_count - 1) / days_count)
    half = student_quantile((1.0 + confidence_ratio) / 2.0, days_count - 1) * deviation
    return Estimate(mean, mean - half, mean + half)


@lru_cache(maxsize=256)
def student_quantile(probability: float, freedom_count: int) -> float:
    """Return the quantile of Student's t for a probability between 0.5 and 1.

    Up to 200 degrees of freedom by bisection of the finite series, above by the expansion in their inverse
    (Abramowitz and Stegun, Handbook of mathematical functions, 26.7.3, 26.7.4 and 26.7.5; from memory, compared with
    printed tables in the tests).
    """
    if freedom_count > _SERIES_UP_TO:
        return _expanded(NormalDist().inv_cdf(probability), freedom_count)
    low, high = 0.0, 1.0
    while student_probability(high, freedom_count) < probability:
        low, high = high, 2.0 * high
    for _ in range(100):
        middle = (low + high) / 2.0
        if student_probability(middle, freedom_count) < probability:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def _expanded(x: float, freedom_count: int) -> float:
    terms = (
        (x**3 + x) / 4.0,
        (5.0 * x**5 + 16.0 * x**3 + 3.0 * x) / 96.0,
        (3.0 * x**7 + 19.0 * x**5 + 17.0 * x**3 - 15.0 * x) / 384.0,
    )
    return x + fsum(term / float(freedom_count) ** power for power, term in enumerate(terms, start=1))


def student_probability(value: float, freedom_count: int) -> float:
    """Return the probability that Student's t is at most ``value``, which is not negative."""
    angle = atan(value / sqrt(freedom_count))
    square = cos(angle) ** 2
    # the series steps by two: odd degrees of freedom begin at cos, even ones at 1
    odd = freedom_count % 2
    term = total = cos(angle) if odd else 1.0
    if freedom_count == 1:
        return 0.5 + angle / pi
    for step in range(1 + odd, freedom_count - 2, 2):
        term *= square * step / (step + 1)
        total += term
    within = 2.0 / pi * (angle + sin(angle) * total) if odd else sin(angle) * total
    return 0.5 + within / 2.0
