"""Where a scope and a figure stand in figures.json: the entry of a group, and the numbers in it by dotted name."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from difflib import get_close_matches
from typing import Any

from pipeline.errors import FigureError
from pipeline.evidence.scope import KEYS, Number
from pipeline.results import Scope

GROUPS = {
    frozenset(): "total", frozenset({"month"}): "months", frozenset({"channel"}): "channels",
    frozenset({"machine"}): "machines", frozenset({"month", "channel"}): "month_channels",
}  # fmt: skip
COUNTED = ("read", "kept", "repeats", "set_aside")
NEAR = 3


def group_scopes(figures: Mapping[str, Any]) -> Iterator[Scope]:
    """Every group of figures.json: the total, months, channels, machines, months by channel."""
    for group in GROUPS.values():
        for entry in [figures[group]] if group == "total" else figures[group]:
            yield Scope(**{key: entry[key] for key in KEYS if key in entry})


def numbers(entry: Mapping[str, Any], before: str = "") -> Iterator[tuple[str, Number]]:
    """The numbers (and Nones) of an entry by name, nested names joined by a dot; lists and texts are passed over."""
    for name, value in entry.items():
        if isinstance(value, Mapping):
            yield from numbers(value, f"{before}{name}.")
        elif value is None or (isinstance(value, int | float) and not isinstance(value, bool)):
            yield before + name, value


def group_entry(figures: Mapping[str, Any], scope: Scope) -> Mapping[str, Any]:
    """The entry of the group that ``scope`` names.

    Raises:
        FigureError: figures.json has no such group, or none of that name in it.
    """
    group = GROUPS.get(frozenset(scope.named))
    if group is None:
        named = " and ".join(scope.named)
        raise FigureError(
            f"There are no figures by {named}. There are figures of the whole site, by month, channel, machine,"
            " and by month and channel together; of a file; of a pattern; and of a cause, in all or by month."
        )
    if group == "total":
        total: Mapping[str, Any] = figures["total"]
        return total
    for key, value in scope.named.items():
        refuse_strange(key, value, [entry[key] for entry in figures[group]])
    found: Mapping[str, Any] = next(
        entry for entry in figures[group] if all(entry[key] == value for key, value in scope.named.items())
    )
    return found


def file_entry(figures: Mapping[str, Any], scope: Scope) -> Mapping[str, Any]:
    """The account of one file.

    Raises:
        FigureError: no such file was loaded, or a file is asked for together with something else.
    """
    if list(scope.named) != ["file"]:
        raise FigureError("A file's figures are its account of rows, in all only. Leave the other choices away.")
    refuse_strange("file", scope.file, [entry["path"] for entry in figures["files"]])
    entry = next(entry for entry in figures["files"] if entry["path"] == scope.file)
    return {name: entry[name] for name in COUNTED}


def cause_name(entry: Mapping[str, Any]) -> str:
    """ "top: second", or "top" where there is no second."""
    return f"{entry['top']}: {entry['second']}" if entry["second"] else str(entry["top"])


def cause_entries(figures: Mapping[str, Any], scope: Scope) -> list[Mapping[str, Any]]:
    """All causes, in all or of the scope's month, most frequent first."""
    if not set(scope.named) <= {"cause", "month"}:
        raise FigureError("Causes are counted in all and by month. Leave the other choices away.")
    source = group_entry(figures, Scope(month=scope.month)) if scope.month else figures
    entries: list[Mapping[str, Any]] = list(source["causes"])
    return entries


def cause_names(figures: Mapping[str, Any]) -> list[str]:
    """The names of all causes of the site, most frequent first."""
    return [cause_name(entry) for entry in figures["causes"]]


def cause_entry(figures: Mapping[str, Any], scope: Scope) -> Mapping[str, Any]:
    """The entry of one cause.

    Raises:
        FigureError: no event has that cause there.
    """
    entries = cause_entries(figures, scope)
    refuse_strange("cause", scope.cause, [cause_name(entry) for entry in entries])
    return next(entry for entry in entries if cause_name(entry) == scope.cause)


def refuse_strange(what: str, name: str, known: list[str]) -> None:
    """Refuse a name that is not among ``known``, and say which are near.

    Raises:
        FigureError: it, and the nearest known ones.
    """
    if name in known:
        return
    holding = [each for each in known if name.casefold() in each.casefold()] if name else []
    near = list(dict.fromkeys([*get_close_matches(name, known, n=NEAR, cutoff=0.5), *holding]))[:NEAR]
    hint = f"Did you mean {' or '.join(map(quoted, near))}?" if near else f"There are: {_listed(known)}."
    raise FigureError(f'There is no {what} "{name}" among the figures. {hint}')


def quoted(name: str) -> str:
    """The name in quotes where it would else run into its neighbours."""
    return f'"{name}"' if any(character in name for character in ", :") else name


def _listed(known: list[str]) -> str:
    shown = [quoted(name) for name in dict.fromkeys(known)]
    more = f" and {len(shown) - 20} more" if len(shown) > 20 else ""
    return (", ".join(shown[:20]) + more) or "none"
