"""What the second invented room is: its name, its days, its machines, what it plays, and how its reels are numbered.

The acts and scenes are those of the first room, which knows the machines VT5 to VT8 with their habits: VT5 never logs
`lock`, the clock of VT6 is 42 s ahead, VT7 and VT8 log `alive`. So these four stand here too.
"""

from __future__ import annotations

from datetime import date
from random import Random

from sample_logs.room.instants import HOUR, MINUTE, as_local, local
from sample_logs.room.plant import Machine

NAME = "Ekervattna tape room"
FIRST_DAY = date(2031, 10, 9)
LAST_DAY = date(2031, 11, 3)
AS_OF = local(LAST_DAY, 22 * 60)  # the last line of any log
CHANNELS = ("One", "Two")
PAIR_OF = {"VT5": "P3", "VT6": "P3", "VT7": "P4", "VT8": "P4"}
MACHINES = tuple(PAIR_OF)
WHOLE_SECONDS = "VT5"  # its old log card writes no fractions
NEW_NUMBER = ("VT8", "VT9", date(2031, 10, 20))  # logs and tickets call it so from that broadcast day on
DOUBLED_HOUR = local(date(2031, 10, 26), 60) + HOUR  # the instant at which two o'clock comes for the first time
AFTER_DOUBLED_HOUR = DOUBLED_HOUR + 2 * HOUR  # three o'clock, which comes once

# Title, and the number of its first episode; episodes count on from there.
TITLES = {
    "Kvällsrundan": 1000,
    "Söndagsmusik från ladan": 83,
    "Båthuset": 207,
    "Tolv trappor": 61,
    "Åkerns år": 1070,
    "Ordlekstugan": 340,
    "Smidesboken": 502,
    "Öar utan broar": 91,
    "Mjölnarens dotterdotter": 1201,
    "Grannar, grindar och get": 660,
}
LEAST_DIGITS = 4  # the number on the box has zeros in front up to here

REGISTER = tuple(
    Machine(
        machine,
        "transverse, wide tape" if number < 2 else "helical, narrow tape",
        PAIR_OF[machine],
        "norra väggen" if number < 2 else "södra väggen",
        f"20{24 + number}-0{3 + number}-01",
        260_000 + 12_500 * number,
    )
    for number, machine in enumerate(MACHINES)
)


def reel_number(episode: int, part: int, copy: str) -> str:
    """A reel's number as it is compared: no zeros in front."""
    return f"{episode}-{part}{copy}"


def as_typed(reel: str, random: Random) -> str:
    """The number as people type it: with the box's zeros in front or without, and now and then an O for a 0."""
    episode, rest = reel.split("-")
    typed = episode.zfill(LEAST_DIGITS) if random.random() < 0.5 else episode
    return (typed.replace("0", "O") if random.random() < 0.4 else typed) + "-" + rest


def is_doubled(at: int) -> bool:
    """Whether the wall clock shows this instant's time twice."""
    return DOUBLED_HOUR <= at < AFTER_DOUBLED_HOUR


def unambiguous_minute(at: int) -> int:
    """The whole minute of an instant; what falls into the doubled hour is written down when that is over."""
    return AFTER_DOUBLED_HOUR + 5 * MINUTE if is_doubled(at) else at // MINUTE * MINUTE


def broadcast_day(at: int) -> date:
    """The broadcast day that holds an instant."""
    return as_local(at - 6 * HOUR).date() if not is_doubled(at) else date(2031, 10, 25)
