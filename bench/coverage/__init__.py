"""Rooms invented with a known truth, fed through the doors that real figures pass: how often are the answers right?

A manager is told "95 % limits" and "at most once in twenty". Each section here invents rooms whose truth it knows,
measures them as the program measures a real one, counts how often the promise was kept, and holds the share against
the promise. Run it with `python -m bench.coverage`.
"""

import importlib
from collections.abc import Iterator
from importlib.util import find_spec

from bench.coverage.claims import Claim

ROOMS = 5_000  # three simulation errors of a share near 0.95 are then 0.009
SEED = 1956

# In the order of the table; each is a module with simulate(rooms, seed).
SECTIONS = (
    "counts",
    "spread",
    "weighed",
    "trends",
    "lives",
    "clocks",
    "rates",
    "outlook",
    "parts",
    "recording",
    "care",
    "together",
    "case",
)


def find_sections() -> Iterator[str]:
    """The sections whose module is there."""
    return (name for name in SECTIONS if find_spec(f"{__name__}.{name}") is not None)


def simulate_section(name: str, rooms: int, seed: int) -> list[Claim]:
    """What one section claims and saw in so many rooms; the same seed gives the same answer.

    Raises:
        ModuleNotFoundError: there is no such section.

    """
    claims: list[Claim] = importlib.import_module(f"{__name__}.{name}").simulate(rooms, seed)
    return claims
