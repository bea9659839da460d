"""Where chance comes from: one stream for each component and each group of days, all from one seed.

Two designs played with the same seed meet the same visitors, who draw the same patience and talk as long, because no
component takes numbers from the stream of another. What differs between the results is then the design (common random
numbers: Law, Simulation modeling and analysis, chapter on variance reduction; from memory).
"""

from dataclasses import dataclass
from hashlib import sha256
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float32]
Times = NDArray[np.float64]

GROUP_COUNT: Final = 50
"""Days that share a stream. A day is the same whatever number of days is played beside it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Length:
    """How long something lasts: a mean and how much it varies.

    The lengths follow a gamma distribution: ``variation_ratio`` is its standard deviation over its mean. 1 gives
    exponential lengths, as the formulas of Erlang suppose; 0 gives lengths that are all alike.
    """

    mean_s: float
    variation_ratio: float = 1.0

    def __post_init__(self) -> None:
        """Refuse lengths that no time can have."""
        if not (self.mean_s >= 0.0 and 0.0 <= self.variation_ratio < np.inf):
            raise ValueError(f"no length of time: mean {self.mean_s} s, variation {self.variation_ratio}")

    def draw(self, stream: np.random.Generator, shape: tuple[int, ...]) -> Floats:
        """Return lengths in seconds. More rows of the same stream begin with the same lengths."""
        if self.variation_ratio == 0.0 or self.mean_s == np.inf:
            return np.full(shape, self.mean_s, dtype=np.float32)
        if self.variation_ratio == 1.0:
            return stream.standard_exponential(shape, dtype=np.float32) * np.float32(self.mean_s)
        form = self.variation_ratio**-2
        return stream.standard_gamma(form, shape, dtype=np.float32) * np.float32(self.mean_s / form)


def stream_of(seed: int, component: str, group: int) -> np.random.Generator:
    """Return the stream of a component for a group of days.

    The spawn key is made of the component's name by SHA-256, which is the same in every process and on every machine.
    """
    digest = sha256(component.encode()).digest()
    key = tuple(int.from_bytes(digest[at : at + 4], "big") for at in range(0, 16, 4))
    return np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed, spawn_key=(*key, group))))
