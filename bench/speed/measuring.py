"""Runs a program as a process of its own and says what it took: seconds by the clock, of work, and peak memory."""

import os
import subprocess
import tempfile
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median

ROOT = Path(__file__).parents[2]  # programs are begun there, so that they find each other
KEEP_NONE = "PYTHONDONTWRITEBYTECODE"
SAID = 2_000  # characters of what a failed program said


class ProgramError(Exception):
    """A program that is timed ended otherwise than it may; the message holds what it said, so it is never recorded."""


class AnswerError(Exception):
    """A program computes something else than a run does; the message says what."""


@dataclass(frozen=True)
class Sample:
    """One run of a program: wall and CPU seconds (its children's included), peak resident memory in bytes, stdout."""

    wall_s: float
    cpu_s: float
    peak_bytes: int
    output: str = ""


@dataclass(frozen=True)
class Spread:
    """The median of several rounds, the least and the greatest."""

    median: float
    low: float
    high: float


def run_program(command: Sequence[str], *, allowed: Sequence[int] = (0,)) -> Sample:
    """Run ``command`` to its end and measure it.

    The peak is that of the process alone, as the system accounts for it (`ru_maxrss` of wait4). A child is begun as a
    copy of this process, so its peak is never seen below ours, which is why nothing heavy is imported here. It keeps
    its compiled modules, as those of an installed program are kept, also where this process is told to keep none.

    Raises:
        ProgramError: its exit status is none of those allowed.
    """
    own = {name: said for name, said in os.environ.items() if name != KEEP_NONE}
    with tempfile.TemporaryFile() as said, tempfile.TemporaryFile() as told:
        began = time.perf_counter()
        process = subprocess.Popen(command, stdout=said, stderr=told, cwd=ROOT, env=own)  # noqa: S603 - ours
        _, status, usage = os.wait4(process.pid, 0)
        wall_s = time.perf_counter() - began
        process.returncode = os.waitstatus_to_exitcode(status)
        said.seek(0)
        told.seek(0)
        if process.returncode not in allowed:
            words = told.read().decode(errors="replace")[-SAID:]
            raise ProgramError(f"{' '.join(command)} ended with {process.returncode}:\n{words}")
        peak_bytes = usage.ru_maxrss * 1024  # Linux counts in KiB
        return Sample(wall_s, usage.ru_utime + usage.ru_stime, peak_bytes, said.read().decode())


def warm_files(folder: Path) -> int:
    """Read every file of a folder once, so that the first program timed finds them in memory; returns their bytes."""
    total = 0
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        with path.open("rb", buffering=0) as file:
            while block := file.read(1 << 20):
                total += len(block)
    return total


def spread_of(values: Sequence[float]) -> Spread:
    """Median, least and greatest; of an even number of values the median lies between the two in the middle."""
    return Spread(median(values), min(values), max(values))


def ratio_of(above: Sequence[float], below: Sequence[float]) -> Spread:
    """The ratio of two programs, round by round."""
    return spread_of([one / other for one, other in zip(above, below, strict=True)])


def order_of_round(names: Sequence[str], round_no: int) -> list[str]:
    """The programs in another order each round, so that none always runs after the same one."""
    turn = round_no % len(names)
    return [*names[turn:], *names[:turn]]


Samples = Mapping[str, Sequence[Sample]]
