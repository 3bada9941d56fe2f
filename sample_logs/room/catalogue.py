"""Invented programmes and their reels: each part is on two copies, recorded on two machines."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from random import Random

from sample_logs.room.instants import local
from sample_logs.room.plant import PAIRS

TITLES = (
    "The Lamp Keepers", "Gravel and Gold", "Harbour Hour", "Öster om ån", "Seven Bridges", "A Shed of One's Own",
    "Winter Choir", "The Tin Orchestra", "Moss", "Letters to a Lighthouse", "The Long Platform", "Quiz at Nine",
    "Weather for Farmers", "Tallmyr Tonight", "Small Engines", "The Clockmaker's Niece", "Bread, Butter and Law",
    "Night Ferry", "Skärgårdsliv", "The Geometry Lesson", "Under the Slipway", "Two Accordions", "The Red Sledge",
    "Postcards, Returned", "Ask the Forester", "The Silent Mill", "Half Past Snow", "Rowing for Beginners",
)  # fmt: skip
EPISODES = 6
FAULTY = "K0907"  # the episode whose first reel was recorded with a fault, on both copies


@dataclass(frozen=True)
class Label:
    """A line of the reel register."""

    reel: str
    programme: str
    show: str
    recorded_on: str
    recorded_by: str
    recorded_at: int


def episodes() -> dict[str, tuple[str, str]]:
    """Number of each episode, with its programme and show."""
    return {
        f"K{100 * title + 100:04d}"[:3] + f"{episode + 1:02d}": (name, f"part {episode + 1}")
        for title, name in enumerate(TITLES)
        for episode in range(EPISODES)
    } | {FAULTY: ("The Glass Orchard", "part 7")}


def reel_name(episode: str, part: int, copy: str) -> str:
    """The number on the box: episode, part, copy A or B."""
    return f"{episode}-{part}{copy}"


def write_labels(random: Random) -> list[Label]:
    """Every reel's label: both copies were made at one time on the two machines of a pair."""
    labels = []
    for episode, (programme, show) in sorted(episodes().items()):
        pair = PAIRS["P2" if episode == FAULTY else random.choice(list(PAIRS))]
        at = local(date(2030, random.randint(9, 12), random.randint(1, 28)), random.randrange(9 * 60, 17 * 60))
        for part in (1, 2):
            labels += [
                Label(reel_name(episode, part, copy), programme, show, machine, random.choice(("crew a", "crew b")), at)
                for copy, machine in zip("AB", pair, strict=True)
            ]
    return labels
