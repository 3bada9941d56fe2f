"""What the page on parts cannot tell, in sentences, with how many parts each is about."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pipeline.render.language import say, say_counted
from pipeline.render.transports.plain_numbers import plain


def not_known(found: Mapping[str, Any]) -> tuple[str, ...]:
    """The sentences of the section on what is not known."""
    lines = [
        *_counted(found),
        say("Failures that nobody wrote a ticket for: they count as taken out, and lives then read too long."),
        say("Head hours while a machine's log is missing: they are not in these lives, which then read too short."),
    ]
    if found["kinds"] and not found["has_costs"]:
        lines.append(say("At what age a planned change costs least: site.toml states no prices under [costs.parts]."))
    return tuple(lines)


def _counted(found: Mapping[str, Any]) -> list[str]:
    kinds, lines = found["kinds"], []
    if before := sum(kind["machines_count"] for kind in kinds):
        lines.append(_before(before))
    if found["nameless_count"]:
        lines.append(_nameless(found["nameless_count"]))
    if unclear := sum(kind["unclear_count"] for kind in kinds):
        lines.append(_unclear(unclear, plain(found["ticket_window_h"])))
    if again := sum(kind["fitted_again_count"] for kind in kinds):
        text = say_counted(
            "Whether {n} head fitted before under the same serial were as good as new.",
            "Whether {n} heads fitted before under the same serial were as good as new.",
            again,
        )
        lines.append(text)
    return lines


def _before(count: int) -> str:
    return say_counted(
        "How long {n} part lasted that were in a machine when the first of their kind was fitted in these data: when "
        "they went in is not recorded, so they are left out.",
        "How long {n} parts lasted that were in a machine when the first of their kind was fitted in these data: when "
        "they went in is not recorded, so they are left out.",
        count,
    )


def _nameless(count: int) -> str:
    return say_counted(
        "Which life began at {n} fitting: the line names no kind of part, or another of its kind went in at the same "
        "instant.",
        "Which life began at {n} fittings: the line names no kind of part, or another of its kind went in at the same "
        "instant.",
        count,
    )


def _unclear(count: int, window: str) -> str:
    return say_counted(
        "Whether {n} part had failed: taken out within {window} h of a ticket on the machine that names something "
        "else. They count as taken out.",
        "Whether {n} parts had failed: taken out within {window} h of a ticket on the machine that names something "
        "else. They count as taken out.",
        count,
        window=window,
    )
