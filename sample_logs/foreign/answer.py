"""The true answer of the second room in the shape of figures.json: what its scenes state, added up; no log is read."""

from __future__ import annotations

from typing import Any

from sample_logs.foreign.acting import Acted
from sample_logs.foreign.house import CHANNELS, MACHINES
from sample_logs.room.figures import add_up
from sample_logs.room.plant import FAST_BY_MS, FAST_CLOCK


def true_answer(acted: Acted) -> dict[str, Any]:
    """Totals, and the same by month, channel, machine and transmission; the clocks."""
    answer = add_up(acted.truth)
    answer["channels"] = [row for row in answer["channels"] if row["channel"] in CHANNELS]
    answer["machines"] = [row for row in answer["machines"] if row["machine"] in MACHINES]
    ahead = {machine: FAST_BY_MS / 1000 * (machine == FAST_CLOCK) for machine in MACHINES}
    answer["clocks"] = [{"machine": machine, "offset_s": seconds} for machine, seconds in ahead.items()]
    return answer
