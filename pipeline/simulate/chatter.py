"""Lines that say nothing new: `alive`, the hour meter, and the pair read in step again.

They come at even spacing with some jitter, on odd microseconds, so that none is ever equal to a line of a scene. Each
is a function of its number, so that any stretch of a log can be made without what came before it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from pipeline.errors import QuestionError
from pipeline.simulate.draws import Draw, Ints
from pipeline.simulate.parameters import SECOND, Parameters

Flags = npt.NDArray[np.bool_]

PART = 1_000_000  # lines made at once: what bounds the memory
SLOWEST_ALIVE = 0.01  # lines a second; slower than this, `alive` would leave silences longer than silence_s
HOURS_EVERY, OFFSET_EVERY = 100, 40
LAST_US = 2  # before the end of a stretch, left to the last reading of the hour meter


@dataclass(frozen=True)
class Due:
    """Lines due in [start, end): their numbers and instants (house clock), in order."""

    start: int
    end: int
    number: Ints
    at: Ints

    def only(self, chosen: Flags) -> Due:
        """Those where ``chosen`` is true."""
        return Due(self.start, self.end, self.number[chosen], self.at[chosen])


@dataclass(frozen=True)
class Chatter:
    """The rate of such lines for each machine of a room."""

    parameters: Parameters
    per_second: float

    @property
    def is_alive(self) -> bool:
        """Whether the machines of this room log `alive`; else the hour meter only."""
        return self.per_second >= SLOWEST_ALIVE

    def parts(self, machine: int, start: int, end: int) -> Iterator[Due]:
        """A machine's lines that are due in [start, end), in parts that join without gaps; at least one part."""
        first, last = (self._number_at(edge) for edge in (start, end))
        edges = [first, *range((first // PART + 1) * PART, last, PART), last]
        instants = [start, *(int(self._instant_of(np.array([edge]))[0]) for edge in edges[1:-1]), end]
        for place in range(len(edges) - 1):
            number = np.arange(edges[place], edges[place + 1])
            at = self._instant_of(number) + self._jitter(machine, number) | 1
            high = instants[place + 1]
            yield Due(instants[place], high, number, at).only(at < high - LAST_US)

    def is_hours(self, number: Ints) -> Flags:
        """Which lines read the hour meter."""
        every = HOURS_EVERY if self.is_alive else 1
        chosen: Flags = number % every == every - 1
        return chosen

    def is_offset(self, number: Ints) -> Flags:
        """Which lines read the offset, where the pair is in step."""
        chosen: Flags = number % OFFSET_EVERY == OFFSET_EVERY - 2
        return chosen

    def _number_at(self, instant: int) -> int:
        return int(np.ceil((instant - self.parameters.started_us) * self.per_second / SECOND))

    def _instant_of(self, number: Ints) -> Ints:
        step = SECOND / self.per_second if self.per_second else 0.0
        due: Ints = self.parameters.started_us + np.floor(number * step).astype(np.int64)
        return due

    def _jitter(self, machine: int, number: Ints) -> Ints:
        most = int(SECOND / self.per_second / 2) if self.per_second else 0
        return Draw.of(self.parameters.seed, 4, machine).whole(number, 0, max(1, most))


def chatter_for(parameters: Parameters, scripted: int, hidden_us: int) -> Chatter:
    """The chatter asked for: a rate, or what is wanting of so many lines in all.

    ``scripted`` lines there are anyhow; ``hidden_us`` microseconds of all logs together were never saved.

    Raises:
        QuestionError: the scenes alone bring more lines than were asked for.
    """
    if not parameters.lines:
        return Chatter(parameters, parameters.lines_per_second)
    if parameters.lines < scripted:
        raise QuestionError(
            f'--lines "{parameters.lines}" is too few: the programmes alone bring {scripted}. '
            "Name more lines, or fewer --days, --channels or --programmes."
        )
    heard_us = (parameters.ended_us - parameters.started_us) * len(parameters.machines) - hidden_us
    clean = parameters.lines / (1 + parameters.mess * 2 / 3)  # the rest are rows that come again or cannot be read
    return Chatter(parameters, max(0.0, clean - scripted) * SECOND / heard_us)


@dataclass(frozen=True)
class Stretches:
    """Stretches of time, half-open, none overlapping another."""

    start: Ints
    end: Ints

    def hold(self, times: Ints) -> Flags:
        """Which of the sorted ``times`` lie in one."""
        low, high = np.searchsorted(times, self.start), np.searchsorted(times, self.end)
        inside = np.zeros(len(times), dtype=np.bool_)
        for stretch in np.flatnonzero(low < high):  # a part of a log meets few of them
            inside[low[stretch] : high[stretch]] = True
        return inside
