"""Measure, judge, write down: `python -m bench.speed --date 2031-03-01 --revision abc1234`."""

import argparse
import shutil
import sys
import tempfile
from collections.abc import Sequence
from pathlib import Path

from bench.speed.history import HISTORY, Entry, append_entry, describe_machine, find_slower, read_history
from bench.speed.page import format_table, judge_targets, write_pages
from bench.speed.rounds import Bench, measure
from bench.speed.sites import SLOW_REPEATS, YEARS_MONTHS, Asked
from bench.speed.targets import MILLION, TARGETS

REPEATS, FEW_REPEATS = 5, 3  # from ten million lines on


def main(arguments: Sequence[str] | None = None) -> int:
    """Measure what is asked for. Exit status 0 whatever is found: a slow program is news, not an error."""
    asked, options = read_arguments(arguments)
    work = Path(options.folder) if options.folder else Path(tempfile.mkdtemp(prefix="airhours-speed-"))
    try:
        found = measure(Bench(asked, work, frozenset(options.only or ()), tell))
    finally:
        if not options.folder:
            shutil.rmtree(work, ignore_errors=True)
    entry = Entry(
        options.date, options.revision, asked.lines, asked.months, asked.repeats, describe_machine(),
        found.figures, found.sizes, found.stages, found.left_out, asked.rate, asked.days, asked.slow_repeats,
    )  # fmt: skip
    print(format_table([target for target in TARGETS if target.limit is not None], [entry]), end="\n\n")
    print(format_table([target for target in TARGETS if target.limit is None], [entry]), end="\n\n")
    print("\n".join([*judge_targets(entry), *find_slower(entry, read_history())]))
    if not options.keep_no_record:
        append_entry(entry)
        write_pages()
        print(f"written to {HISTORY.name}, docs/speed.md and README.md")
    return 0


def tell(sentence: str) -> None:
    """Say on the way what is being done; figures alone go to stdout."""
    print(sentence, file=sys.stderr, flush=True)


def read_arguments(arguments: Sequence[str] | None) -> tuple[Asked, argparse.Namespace]:
    """What was asked for; rounds are fewer from ten million lines on."""
    parser = argparse.ArgumentParser(prog="python -m bench.speed", description=__doc__)
    parser.add_argument("--lines", type=int, default=MILLION, help="event lines, about")
    length = parser.add_mutually_exclusive_group()
    length.add_argument("--rate", type=float, default=1.0, help="lines a second of each machine: how long they last")
    length.add_argument("--months", type=int, default=0, help="over which they are spread, whatever the rate")
    parser.add_argument("--years-months", type=int, default=YEARS_MONTHS, help="of the site to which a day is added")
    parser.add_argument("--repeats", type=int, default=0, help="rounds; 5, or 3 from ten million lines on")
    parser.add_argument("--slow-repeats", type=int, default=SLOW_REPEATS, help="rounds of the slow programs")
    parser.add_argument("--seed", type=int, default=1956, help="another one gives another room")
    parser.add_argument("--mess", type=float, default=0.01, help="share of rows repeated, unreadable or out of order")
    parser.add_argument("--date", required=True, help="of this run, for the history")
    parser.add_argument("--revision", required=True, help="of the tree, for the history")
    parser.add_argument("--folder", help="where sites and databases lie; kept afterwards, and its sites used again")
    parser.add_argument("--only", nargs="+", help="these programs alone; recorded if asked for")
    parser.add_argument("--record", action="store_true", help="with --only: written down all the same")
    parser.add_argument("--keep-no-record", action="store_true", help="print only")
    options = parser.parse_args(arguments)
    options.keep_no_record = options.keep_no_record or (bool(options.only) and not options.record)
    repeats = options.repeats or (FEW_REPEATS if options.lines >= 10 * MILLION else REPEATS)
    if not options.months and options.rate <= 0:
        parser.error("--rate is more than 0")
    rate = 0.0 if options.months else options.rate
    asked = Asked(
        options.lines, options.months, repeats, options.seed, options.mess, options.years_months, rate,
        options.slow_repeats,
    )  # fmt: skip
    return asked, options


if __name__ == "__main__":
    sys.exit(main())
