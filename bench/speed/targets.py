"""What is measured, and what it ought to be: each figure with its limit, and the lines of events at which it is set."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from bench.speed.measuring import Sample, Spread, ratio_of, spread_of

GIB = 1024**3
MILLION = 1_000_000
PLAIN = "the engine's plain load"


@dataclass(frozen=True)
class Target:
    """A figure. ``limit`` bounds its median from above, or from below where more is better; None: only told.

    ``at_lines`` is the size at which the limit is set, 0 for any; ``digits`` are those shown.
    """

    name: str
    what: str
    limit: float | None = None
    more_is_better: bool = False
    at_lines: int = 0
    digits: int = 2
    unit: str = ""

    def is_met(self, value: float) -> bool | None:
        """Whether a median keeps the limit; None without one."""
        if self.limit is None:
            return None
        return value >= self.limit if self.more_is_better else value <= self.limit


TARGETS = (
    Target("load_to_plain", f"load with provenance, repeats, set aside, clocks ÷ {PLAIN}", 1.5, at_lines=10 * MILLION),
    Target("run_to_plain", f"the whole run with checks, figures and pages ÷ {PLAIN}", 3.0, at_lines=10 * MILLION),
    Target("pandas_to_job", "the job in pandas ÷ airhours' load and models", 4.0, more_is_better=True),
    Target("sqlite_to_job", "the job in SQLite ÷ airhours' load and models", 5.0, more_is_better=True),
    Target("polars_to_job", "the job in polars alone ÷ airhours' load and models", 1.0, more_is_better=True),
    Target("job_to_script", "airhours' load and models ÷ the job as one DuckDB script tuned by hand", 1.3),
    Target("day_to_run", "a day added to a site of three years ÷ the whole run of it", 0.02, digits=4),
    Target("again_cpu", "CPU of a run with nothing new, less that of `--help`", 1.0, unit="s"),
    Target("incident", "one incident told and its page written", 2.0, at_lines=100 * MILLION, unit="s"),
    Target("help", "`airhours --help`", 0.3, unit="s"),
    Target("run_peak", "peak memory of the whole run", 2.0, at_lines=100 * MILLION, unit="GiB"),
    Target("plain", "the engine's plain load", unit="s"),
    Target("load", "airhours' load", unit="s"),
    Target("job", "airhours' load and models", unit="s"),
    Target("run", "airhours' whole run", unit="s"),
    Target("pandas", "the job in pandas", unit="s"),
    Target("sqlite", "the job in SQLite", unit="s"),
    Target("polars", "the job in polars alone", unit="s"),
    Target("script", "the job as one DuckDB script", unit="s"),
    Target("years_run", "the whole run of three years", unit="s"),
    Target("day", "a day added to it", unit="s"),
    Target("job_peak", "peak memory of airhours' load and models", unit="GiB"),
    Target("pandas_peak", "peak memory of the job in pandas", unit="GiB"),
    Target("sqlite_peak", "peak memory of the job in SQLite", unit="GiB"),
    Target("polars_peak", "peak memory of the job in polars alone", unit="GiB"),
    Target("script_peak", "peak memory of the job as one DuckDB script", unit="GiB"),
)  # fmt: skip

Samples = Mapping[str, Sequence[Sample]]


def work_out(samples: Samples) -> dict[str, Spread]:
    """Every figure that the samples allow, by name; what was not run is left out."""
    found: dict[str, Spread] = {}
    for target in TARGETS:
        spread = _figure(target.name, samples)
        if spread is not None:
            found[target.name] = spread
    return found


def _figure(name: str, samples: Samples) -> Spread | None:
    above, _, below = name.partition("_to_")
    if below:
        names = {"run": "years_run"} if above == "day" else {}
        return _both(samples, above, names.get(below, below))
    if name == "again_cpu":
        if "again" not in samples or "help" not in samples:
            return None
        pairs = zip(samples["again"], samples["help"], strict=True)
        return spread_of([again.cpu_s - none.cpu_s for again, none in pairs])
    program = name.removesuffix("_peak")
    if program not in samples:
        return None
    if program != name:
        return spread_of([one.peak_bytes / GIB for one in samples[program]])
    return spread_of([one.wall_s for one in samples[program]])


def _both(samples: Samples, above: str, below: str) -> Spread | None:
    if above not in samples or below not in samples:
        return None
    both = list(zip(samples[above], samples[below], strict=False))  # a slow one was in the first rounds only
    return ratio_of([one.wall_s for one, _ in both], [other.wall_s for _, other in both])
