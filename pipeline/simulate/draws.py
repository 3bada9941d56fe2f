"""Numbers that look drawn, each a function of a key: no draw hangs on how many others there are.

So a room that is a day longer begins as the shorter one does, and any part of a log is made without those before it.
The function is SplitMix64 (Steele, Lea, Flood 2014, "Fast splittable pseudorandom number generators", figure 16), whose
n-th number can be had without the others.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
Unsigned = npt.NDArray[np.uint64]
Floats = npt.NDArray[np.float64]
Words = npt.NDArray[np.object_]

GOLDEN, FIRST, SECOND_FACTOR = 0x9E3779B97F4A7C15, 0xBF58476D1CE4E5B9, 0x94D049BB133111EB
MASK = 2**64 - 1


def split_mix(state: int, place: Ints) -> Unsigned:
    """The numbers at ``place`` (from 0) of the sequence that begins with ``state``."""
    mixed = (place.astype(np.uint64) + np.uint64(1)) * np.uint64(GOLDEN)
    mixed += np.uint64(state & MASK)
    mixed ^= mixed >> np.uint64(30)
    mixed *= np.uint64(FIRST)
    mixed ^= mixed >> np.uint64(27)
    mixed *= np.uint64(SECOND_FACTOR)
    mixed ^= mixed >> np.uint64(31)
    return mixed


@dataclass
class Draw:
    """Draws for one purpose: each call draws anew, for every key on its own."""

    state: int

    @classmethod
    def of(cls, *purpose: int) -> Draw:
        """Draws that belong to these numbers: a seed, then what they are for."""
        state = 0
        for number in purpose:
            state = int(split_mix(state ^ number, np.zeros(1, np.int64))[0])
        return cls(state)

    def uniform(self, key: Ints) -> Floats:
        """Numbers in [0, 1), 53 bits each."""
        self.state = int(split_mix(self.state, np.zeros(1, np.int64))[0])
        return (split_mix(self.state, key) >> np.uint64(11)).astype(np.float64) * 2.0**-53

    def between(self, key: Ints, low: float, high: float) -> Floats:
        """Numbers in [low, high)."""
        return low + (high - low) * self.uniform(key)

    def whole(self, key: Ints, low: int, high: int) -> Ints:
        """Whole numbers from ``low`` up to, without, ``high``; the range is far below 2**53, so none is favoured."""
        return low + np.floor(self.uniform(key) * (high - low)).astype(np.int64)

    def word(self, key: Ints, words: tuple[str, ...]) -> Words:
        """One of some words."""
        return np.array(words, dtype=object)[self.whole(key, 0, len(words))]
