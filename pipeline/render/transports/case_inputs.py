"""The numbers that a case is made of: what each is called on a page, its unit, and how it is written."""

from __future__ import annotations

import math

from pipeline.render.language import decimal, localised, say
from pipeline.render.words import figure, not_known, share

PERCENT, MONEY, YEARS = "%", "money", "years"
# Every number a case may be made of, by its unit.
UNITS = {
    "discount_rate": PERCENT,
    "labour_per_h": MONEY,
    "lost_per_s": MONEY,
    "make_good": MONEY,
    "response": MONEY,
    "exposed_per_h": MONEY,
    "replacement": MONEY,
    "replacement_life_years": YEARS,
    "replacement_rate_ratio": "",
    "overhaul": MONEY,
    "overhaul_life_years": YEARS,
    "overhaul_rate_ratio": "",
    "lighter_air_ratio": PERCENT,
    "lighter_per_air_h": MONEY,
    "events_per_1000_h": "",
    "fresh_events_per_1000_h": "",
    "tickets_per_year": "",
    "fresh_tickets_per_year": "",
    "lost_s_per_event": "s",
    "failed_ratio": PERCENT,
    "switches_per_event": "",
    "labour_h_per_ticket": "h",
    "parts_per_ticket": MONEY,
    "air_h_per_year": "h",
    "exposed_h_per_year": "h",
    "head_h_per_year": "h",
    "trend_ratio": "",
}
CHANGES = "changes: "


def named(name: str) -> str:
    """The name of a number on a page."""
    if name.startswith(CHANGES):
        kind = name.removeprefix(CHANGES).removesuffix(" per 1000 h")
        return say("changes of {kind}, per 1,000 h of use", kind=kind)
    return (stated_names() | measured_names())[name]


def stated_names() -> dict[str, str]:
    """Names of the numbers that site.toml or the register states."""
    return {
        "discount_rate": say("discount rate, a year"),
        "labour_per_h": say("an hour of work on a ticket"),
        "lost_per_s": say("one lost second of air"),
        "make_good": say("making good an event that failed"),
        "response": say("answering one protect switch"),
        "exposed_per_h": say("an hour of exposed air"),
        "replacement": say("a new machine"),
        "replacement_life_years": say("life of a new machine"),
        "replacement_rate_ratio": say("a new machine's rate of failures, as a share of the room's"),
        "overhaul": say("an overhaul"),
        "overhaul_life_years": say("how long an overhaul holds"),
        "overhaul_rate_ratio": say("rate of failures after an overhaul, as a share of today's"),
        "lighter_air_ratio": say("share of air hours that stays under lighter duty"),
        "lighter_per_air_h": say("an air hour played elsewhere"),
    }


def measured_names() -> dict[str, str]:
    """Names of the numbers that were measured."""
    return {
        "events_per_1000_h": say("events on air per 1,000 air h, evened"),
        "fresh_events_per_1000_h": say("events per 1,000 air h of a machine like the room's"),
        "tickets_per_year": say("tickets a year, evened"),
        "fresh_tickets_per_year": say("tickets a year of a machine like the room's"),
        "lost_s_per_event": say("air lost in an event, mean of the room"),
        "failed_ratio": say("share of events that failed"),
        "switches_per_event": say("protect switches in an event"),
        "labour_h_per_ticket": say("work on a ticket, mean of the room"),
        "parts_per_ticket": say("parts on a ticket, mean of the room"),
        "air_h_per_year": say("air hours a year"),
        "exposed_h_per_year": say("exposed air a year"),
        "head_h_per_year": say("hours of heads on tape a year"),
        "trend_ratio": say("the year ahead against the time so far: its trend stands"),
    }


def brings(name: str) -> str:
    """What stating a number would bring to the page."""
    replacing, overhaul, lighter = say("replacing"), say("overhaul", about="brings"), say("lighter duty")
    return {
        "discount_rate": say("what waiting costs"),
        "labour_per_h": say("what work on tickets costs"),
        "lost_per_s": say("what lost seconds cost"),
        "make_good": say("what failed events cost"),
        "response": say("what answering protect switches costs"),
        "exposed_per_h": say("what exposed air costs (not everywhere has a price)"),
        "replacement": replacing,
        "replacement_life_years": replacing,
        "replacement_rate_ratio": say("a new machine's own rate of failures; without it, it has the room's"),
        "overhaul": overhaul,
        "overhaul_life_years": overhaul,
        "overhaul_rate_ratio": overhaul,
        "lighter_air_ratio": lighter,
        "lighter_per_air_h": lighter,
    }[name]


def origin(source: str) -> str:
    """Where a number comes from."""
    known = {"the register": say("the register", about="origin"), "measured": say("measured", about="origin")}
    return known.get(source, source)


def amount(name: str, value: float | None, currency: str, *, is_stated: bool = False) -> str:
    """A number with its unit, as in "45.2 crowns", "5.0 %" or "0.80"; one that is stated, as it was stated."""
    if value is None:
        return not_known()
    return _with_unit(name, value, currency, 0 if is_stated else 3)


def apart(name: str, value: float, now: float, currency: str) -> str:
    """A number with its unit, with as many digits as it takes to tell it from ``now``, at most nine."""
    for digits in range(3, 10):
        text = _with_unit(name, value, currency, digits)
        if text != _with_unit(name, now, currency, digits):
            return text
    return say("just beside {value}", value=_with_unit(name, value, currency, 3))


def _with_unit(name: str, value: float, currency: str, digits: int) -> str:
    """The number as the pages write it (digits 3), with that many digits that count, or with all it has (digits 0)."""
    unit = MONEY if name.startswith(CHANGES) else UNITS[name]
    scaled = 100 * value if unit == PERCENT else value
    if digits == 3:
        text = share(value, 1.0).removesuffix(" %") if unit == PERCENT else figure(value)
    elif digits == 0:
        text = localised(f"{scaled:,.6f}".rstrip("0").rstrip("."))
    else:
        text = decimal(scaled, _places(scaled, digits))
    return f"{text} {_unit_word(unit, value, currency)}".rstrip()


def _places(value: float, digits: int) -> int:
    return max(0, digits - 1 - math.floor(math.log10(abs(value)))) if value else 0


def _unit_word(unit: str, value: float, currency: str) -> str:
    if unit == MONEY:
        return currency
    if unit == YEARS:
        return say("year", about="unit") if value == 1 else say("years", about="unit")
    return unit
