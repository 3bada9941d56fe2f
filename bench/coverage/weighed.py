"""The rooms of `spread` once more, their rates evened out over every spread between machines that the counts allow.

A handful of machines hardly shows how far true rates differ; limits that admit it should keep their level there, too.
"""

import numpy as np

from bench.coverage.claims import Claim
from bench.coverage.spread import cover_evened
from pipeline.statistics import hierarchical_rates

_CASES = ((4, 2.0), (10, 8.0))  # machines, shape of the law of true rates


def simulate(rooms: int, seed: int) -> list[Claim]:
    """Hold the rates evened out over every spread against the same rooms."""
    way = "every spread weighed"
    return [
        cover_evened(np.random.default_rng([seed, 2, place]), rooms, case, (way, hierarchical_rates))
        for place, case in enumerate(_CASES)
    ]
