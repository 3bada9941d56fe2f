"""Every number of figures.json by its path, and the figure and group under which its lines are asked for."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from pipeline.evidence import Scope
from tests.evidence.rooms import Room

Path = tuple[str | int, ...]
GROUPS = ("total", "months", "channels", "machines", "month_channels")
# What no lines are promised for, and why.
NOT_LISTED = {
    r"clocks/\d+/(segments/\d+/)?(drift_ppm|within_s)$": "of a robust fit, which is no sum of anything",
    r"clock_effects/": "figures worked out twice, with and without corrected clocks, of which the tables hold the one",
    r"patterns/names/\d+/(?!(count|incidents|expected|p)$)": "air under a name, and p allowed for all comparisons",
    r"patterns/(events|air_s|level|comparisons|quiet|coincidences)": "what names are compared with, and clusters",
    r"transports/": "fits, tests and laws of small tables; what they count is listed under its own name",
    r"remedies/": "tests of small counts; each names its ticket and the incidents that it counts",
    r"rulings/": "what a person ruled, each with its own file and line beside it",
}


def walk(value: Any, path: Path = ()) -> Iterator[tuple[Path, float | int | None]]:
    """Path and value of every number of a document; a None that stands where others have a number is one too."""
    if isinstance(value, dict):
        for name, part in value.items():
            yield from walk(part, (*path, name))
    elif isinstance(value, list):
        for place, part in enumerate(value):
            yield from walk(part, (*path, place))
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield path, value


def is_left_out(path: Path) -> bool:
    return any(re.match(pattern, "/".join(map(str, path))) for pattern in NOT_LISTED)


def place(figures: dict[str, Any], path: Path) -> tuple[str, Scope]:
    """The name and group to ask for; raises KeyError for a number that nobody thought of."""
    head, *rest = path
    if head in GROUPS:
        entry = figures["total"] if head == "total" else figures[head][rest.pop(0)]
        keys = {key: entry[key] for key in ("month", "channel", "machine") if key in entry}
        if rest[0] == "causes":
            return str(rest[2]), Scope(month=entry["month"], cause=cause(entry["causes"][rest[1]]))
        return ".".join(map(str, rest)), Scope(**keys)
    if head == "causes":
        return str(rest[1]), Scope(cause=cause(figures["causes"][rest[0]]))
    if head == "files":
        return str(rest[1]), Scope(file=figures["files"][rest[0]]["path"])
    return beside(figures, path)


def beside(figures: dict[str, Any], path: Path) -> tuple[str, Scope]:
    head, *rest = path
    if head == "clocks":
        machine = figures["clocks"][rest.pop(0)]["machine"]
        if rest[0] == "segments":
            rest[1] += 1
        return ".".join(map(str, ("clock", *rest))), Scope(machine=machine)
    if path[:2] == ("patterns", "names"):
        entry = figures["patterns"]["names"][rest[1]]
        return str(rest[2]), Scope(pattern=f"{entry['kind']}: {entry['name'] or 'not recorded'}")
    if head not in ("rows", "standby", "comparisons"):
        raise KeyError(path)
    return comparison(figures, rest) if head == "comparisons" else (".".join(map(str, path)), Scope())


def comparison(figures: dict[str, Any], rest: list[Any]) -> tuple[str, Scope]:
    kind = rest.pop(0)
    if kind == "months":
        month = figures["comparisons"]["months"][rest.pop(0)]["month"]
        return ".".join(("comparisons", *rest)), Scope(month=month)
    if rest[0] == "machines":
        return ".".join(("comparisons", *rest[2:])), Scope(machine=rest[1])
    return ".".join(("comparisons", *rest)), Scope()


def cause(entry: dict[str, Any]) -> str:
    return f"{entry['top']}: {entry['second']}" if entry["second"] else entry["top"]


def check_all(room: Room) -> int:
    """Every number: the value is figures.json's own, the total equals it, and items add up to it in whole numbers."""
    count = 0
    for path, value in walk(room.figures):
        if is_left_out(path):
            continue
        figure, scope = place(room.figures, path)
        lines = room.evidence.lines(figure, scope)
        assert lines.value == value, path
        assert lines.total == value, path
        assert lines.is_right
        assert lines.items.is_empty() or not lines.of, path
        if not lines.of and isinstance(value, int):
            assert lines.items["amount"].sum() == value, path
        elif not lines.of:
            assert lines.items["amount_us"].sum() == round(value * 1_000_000), path
        assert lines.items["item"].to_list() == list(range(1, lines.items.height + 1))
        count += 1
    return count
