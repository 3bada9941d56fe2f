"""The machines of the invented room, how they are paired, and what is odd about each."""

from __future__ import annotations

from dataclasses import dataclass

NAME = "Tallmyrhamn tape room"
CHANNELS = ("One", "Two", "Night")
PAIRS: dict[str, tuple[str, str]] = {
    "P1": ("VT1", "VT2"),
    "P2": ("VT3", "VT4"),
    "P3": ("VT5", "VT6"),
    "P4": ("VT7", "VT8"),
}
GROUPS = {"One": ("P1", "P2"), "Two": ("P3", "P4")}
MACHINES = tuple(machine for pair in PAIRS.values() for machine in pair)
PARTNER = {a: b for pair in PAIRS.values() for a, b in (pair, pair[::-1])}
PAIR_OF = {machine: name for name, pair in PAIRS.items() for machine in pair}
NEVER_LOCKS = "VT5"  # its log card has no lock line
FAST_CLOCK = "VT6"  # its clock is ahead of the house
FAST_BY_MS = 42_000
ALIVE = ("VT7", "VT8")  # these two log that they are logging
LOST_LOG = "VT4"  # some days of its log were never saved


@dataclass(frozen=True)
class Machine:
    """A line of the register."""

    machine: str
    kind: str
    pair: str
    group: str
    installed: str
    replacement_cost: int


REGISTER = tuple(
    Machine(
        machine,
        "transverse, wide tape" if number < 4 else "helical, narrow tape",
        PAIR_OF[machine],
        "east bay" if number < 4 else "west bay",
        f"20{21 + number}-0{1 + number}-15",
        240_000 + 15_000 * number,
    )
    for number, machine in enumerate(MACHINES)
)


def other_pair(pair: str) -> str:
    """The other pair of the same group."""
    return next(name for names in GROUPS.values() if pair in names for name in names if name != pair)
