"""The tables of docs/speed.md and README.md, made from the history alone, so that the three always agree."""

import tomllib
from collections.abc import Iterator, Sequence
from itertools import pairwise
from pathlib import Path

from bench.speed.history import Entry, latest_of_each_size, read_history
from bench.speed.measuring import Spread
from bench.speed.targets import MILLION, TARGETS, Target

ROOT = Path(__file__).parents[2]
PAGE, README = ROOT / "docs" / "speed.md", ROOT / "README.md"
REMARKS = Path(__file__).with_name("remarks.toml")
MARK = "<!-- written by python -m bench.speed, {}: {} -->"
NOTHING = "Nothing was measured yet: `make bench` does."
BACK = 20  # entries of the history that the page shows


def write_pages(entries: Sequence[Entry] | None = None) -> None:
    """Write what stands between the marks of both pages anew. The same history gives the same bytes."""
    found = read_history() if entries is None else entries
    for path in (PAGE, README):
        text = path.read_text(encoding="utf-8")
        for name, block in blocks_of(found).items():
            text = put_block(text, name, block)
        path.write_text(text, encoding="utf-8")


def put_block(text: str, name: str, block: str) -> str:
    """``text`` with what stands between the two marks of a block replaced; unchanged where it has no such marks."""
    begin, end = (MARK.format(name, word) for word in ("begin", "end"))
    before, found, rest = text.partition(begin)
    return f"{before}{begin}\n{block}\n{end}{rest.partition(end)[2]}" if found else text


def read_block(text: str, name: str) -> str | None:
    """What stands between the two marks of a block, or None."""
    begin, end = (MARK.format(name, word) for word in ("begin", "end"))
    return text.partition(f"{begin}\n")[2].partition(f"\n{end}")[0] if begin in text else None


def blocks_of(entries: Sequence[Entry]) -> dict[str, str]:
    """Every block by name, from the last entry of each size and the history behind it."""
    latest = latest_of_each_size(entries)
    if not latest:
        return dict.fromkeys(("table", "seconds", "growth", "misses", "profile", "history", "machine"), NOTHING)
    judged = [target for target in TARGETS if target.limit is not None]
    told = [target for target in TARGETS if target.limit is None]
    return {
        "table": format_table(judged, latest),
        "seconds": format_table(told, latest),
        "growth": "\n".join(_growth(latest)) or "Only one size was measured.",
        "misses": "\n".join(_misses(judged, latest)) or "None of those that are set at a size measured.",
        "profile": "\n\n".join(_profile(entry) for entry in latest),
        "history": "\n".join(_history(judged, entries)),
        "machine": "\n".join(_machine(entry) for entry in latest),
    }


def format_table(targets: Sequence[Target], entries: Sequence[Entry]) -> str:
    """One Markdown row a figure and a column a size: median, least and greatest, and whether the target is met."""
    sizes = [f"{entry.lines:,} lines" for entry in entries]
    is_judged = any(target.limit is not None for target in targets)
    head = ["what", *(["target"] if is_judged else []), *sizes]
    rows = [head, ["---"] * len(head)]
    for target in targets:
        cells = [_cell(target, entry) for entry in entries]
        if any(cells) or target.limit is not None:  # what is judged and was not run is said
            rows.append([target.what, *([_limit(target)] if is_judged else []), *(cell or "not run" for cell in cells)])
    return "\n".join(f"| {' | '.join(row)} |" for row in rows)


def _limit(target: Target) -> str:
    word = "at least" if target.more_is_better else "at most"
    size = f" at {target.at_lines // MILLION} M lines" if target.at_lines else ""
    return f"{word} {_number(target, target.limit or 0.0)}{size}"


def _number(target: Target, value: float) -> str:
    unit = f" {target.unit}" if target.unit else ""
    return f"{value:.{target.digits}f}{unit}"


def _cell(target: Target, entry: Entry) -> str:
    found = entry.figures.get(target.name)
    if found is None:
        return ""
    return f"{_spread(target, found)}{_verdict(target, entry)}"


def _spread(target: Target, found: Spread) -> str:
    return f"{_number(target, found.median)} ({found.low:.{target.digits}f} to {found.high:.{target.digits}f})"


def _verdict(target: Target, entry: Entry) -> str:
    is_met = target.is_met(entry.figures[target.name].median)
    if is_met is None:
        return ""
    words = "met" if is_met else "**not met**"
    return f", {words}" if target.at_lines in (0, entry.lines) else f", at its size would be {words}"


def judge_targets(entry: Entry) -> Iterator[str]:
    """A sentence for each target that the entry has a figure for, and for each contender left out."""
    for target in TARGETS:
        if target.limit is not None and target.name in entry.figures:
            words = _verdict(target, entry).removeprefix(", ").replace("*", "")
            yield f"{target.what}: {_spread(target, entry.figures[target.name])}; {_limit(target)}: {words}"
    for name, why in entry.left_out.items():
        yield f"{name} was left out: {why}"


def _growth(latest: Sequence[Entry]) -> Iterator[str]:
    """How the whole run grows from one size to the next, if both are of one revision; 1 is as fast as the lines."""
    for small, large in pairwise(latest):
        if "run" not in small.figures or "run" not in large.figures:
            continue
        lines, seconds = large.lines / small.lines, large.figures["run"].median / small.figures["run"].median
        same = "" if small.revision == large.revision else ", though at different revisions"
        same += "" if small.rate == large.rate else ", though one is of a longer record and one of a denser"
        words = "no faster than the lines: met" if seconds <= lines else "faster than the lines: **not met**"
        sizes = f"{small.lines:,} to {large.lines:,} lines ({lines:g} times)"
        yield f"- From {sizes} the whole run takes {seconds:.2f} times as long{same}: {words}."


def _misses(judged: Sequence[Target], latest: Sequence[Entry]) -> Iterator[str]:
    """Every target missed at a size at which it is set, with what remarks.toml says of it."""
    remarks = tomllib.loads(REMARKS.read_text(encoding="utf-8"))
    for entry in latest:
        for target in judged:
            found = entry.figures.get(target.name)
            is_set = target.at_lines in (0, entry.lines)
            if found is not None and is_set and target.is_met(found.median) is False:
                why = remarks.get(target.name, "No reason is written down yet.")
                yield f"- At {entry.lines:,} lines, {target.what}: {_spread(target, found)}, {_limit(target)}. {why}"


def _profile(entry: Entry) -> str:
    """Where the time of one whole run goes; what lies within another stage is indented."""
    if not entry.stages:
        return f"At {entry.lines:,} lines: no profile was taken."
    whole = entry.stages[0]["wall_s"]
    rows = [
        f"At {entry.lines:,} lines over {entry.length}, one run:",
        "",
        "| stage | seconds | share | CPU seconds |",
        "| --- | --- | --- | --- |",
    ]
    for row in entry.stages:
        name = f"– {row['stage']}" if row["within"] else row["stage"]
        rows.append(f"| {name} | {row['wall_s']:.2f} | {row['wall_s'] / whole:.0%} | {row['cpu_s']:.2f} |")
    return "\n".join(rows)


def _history(judged: Sequence[Target], entries: Sequence[Entry]) -> Iterator[str]:
    """The last entries, newest first, with the ratios that are judged."""
    shown = [target for target in judged if not target.unit]
    yield "| date | revision | lines | " + " | ".join(target.name.replace("_", " ") for target in shown) + " |"
    yield "|" + " --- |" * (3 + len(shown))
    for entry in list(reversed(entries))[:BACK]:
        found = [entry.figures.get(target.name) for target in shown]
        cells = [
            "" if one is None else f"{one.median:.{target.digits}f}" for one, target in zip(found, shown, strict=True)
        ]
        yield f"| {entry.date} | {entry.revision} | {entry.lines:,} | " + " | ".join(cells) + " |"


def _rounds(entry: Entry) -> str:
    slow = min(entry.slow_repeats, entry.repeats)
    return f"{entry.repeats} ({slow} of the slow programs)" if slow else str(entry.repeats)


def _machine(entry: Entry) -> str:
    words = entry.machine
    libraries = ", ".join(
        f"{name} {words[name]}" for name in ("python", "duckdb", "polars", "pandas", "sqlite") if name in words
    )
    return (
        f"- {entry.lines:,} lines over {entry.length}, rounds: {_rounds(entry)}, on {entry.date}: "
        f"{words['cores']} cores of {words['processor']}, {words['memory_gib']} GiB of memory; {libraries}."
    )
