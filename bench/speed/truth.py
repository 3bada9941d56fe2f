"""Whether a large room is counted right, and in how much memory: `python -m bench.speed.truth --lines 100000000`.

A room is simulated, run from nothing as a person would run it, and its figures are held against its truth.json, which
states what the scenes were and was never read from the lines. The peak is that of the run's own process.
"""

import argparse
import json
import shutil
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from bench.speed.contenders import empty, whole_run
from bench.speed.measuring import Sample
from bench.speed.sites import Asked, count_lines, simulate
from bench.speed.targets import GIB, MILLION, TARGETS

MOST_GIB = next(target.limit for target in TARGETS if target.name == "run_peak")


def main(arguments: Sequence[str] | None = None) -> int:
    """Exit status 0 if every figure is true and the memory was within its limit, else 1."""
    options = _read(arguments)
    asked = Asked(options.lines, 0, 1, options.seed, options.mess, rate=options.rate)
    work = Path(options.folder) if options.folder else Path(tempfile.mkdtemp(prefix="airhours-truth-"))
    try:
        site = simulate(work / "site", asked.lines, days=asked.days, mess=asked.mess, seed=asked.seed)
        empty(work / "run")
        sample = whole_run("run", site, work / "run").run()
        wrong = find_wrong(site, work / "run" / "reports")
        print(f"{count_lines(site):,} event lines over {asked.days} days")
    finally:
        if not options.folder:
            shutil.rmtree(work, ignore_errors=True)
    for sentence in (*tell(sample), wrong or "every figure is as the truth has it"):
        print(sentence)
    return int(bool(wrong) or not is_small(sample))


def find_wrong(site: Path, reports: Path) -> str:
    """What the figures of a run have otherwise than the site's truth.json; empty if nothing."""
    from tests.simulate.rooms import hold  # noqa: PLC0415 - what the tests hold small rooms to, which needs pytest

    truth, figures = (
        json.loads(path.read_text(encoding="utf-8"))
        for path in (site / "truth.json", reports / "data" / "figures.json")
    )
    try:
        hold(figures, truth)
    except AssertionError as error:
        return f"a figure is not as the truth has it: {error}"
    return ""


def is_small(sample: Sample) -> bool:
    """Whether the peak is below the limit of the whole run."""
    return MOST_GIB is not None and sample.peak_bytes < MOST_GIB * GIB


def tell(sample: Sample) -> list[str]:
    """Seconds and memory of the run, in words."""
    verdict = "met" if is_small(sample) else "not met"
    return [
        f"{sample.wall_s:.1f} s, {sample.cpu_s:.1f} s of CPU",
        f"peak memory {sample.peak_bytes / GIB:.2f} GiB, below {MOST_GIB} GiB: {verdict}",
    ]


def _read(arguments: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m bench.speed.truth", description=__doc__)
    parser.add_argument("--lines", type=int, default=100 * MILLION, help="event lines, about")
    parser.add_argument("--rate", type=float, default=1.0, help="lines a second of each machine: how long they last")
    parser.add_argument("--seed", type=int, default=1956, help="another one gives another room")
    parser.add_argument("--mess", type=float, default=0.01, help="share of rows repeated, unreadable or out of order")
    parser.add_argument("--folder", help="where site and database lie; kept afterwards, and the site used again")
    return parser.parse_args(arguments)


if __name__ == "__main__":
    sys.exit(main())
