"""What things cost at a site, as its site.toml states it in ``[costs]``: no price here has a default.

A price that a program invents looks like one that somebody stands for. So every key but the currency may be left out;
what would need it is then left out of the comparison, with the name of the key that would bring it.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, fields
from typing import Any

from pipeline.errors import refuse_unknown, wrong_setting

FILE = "site.toml"
TABLE = "costs"
MOST_MONEY = 1e12
LEAST_YEARS, MOST_YEARS = 0.01, 1000.0  # a shorter life is a slip of the hand, and prices over it grow past all numbers
LONGEST_UNIT = 24  # letters of a currency's name
MOST_RATIO = 1000.0
MOST_RATE = 1.0  # a discount rate of 100 % a year; a larger one is a percentage typed as a share
PRICE, YEARS, RATE, SHARE, RATIO = "price", "years", "rate", "share", "ratio"
PART_KEYS = ("planned", "failure")
# Every number of [costs]: its sort says what is allowed.
NUMBERS = {
    "discount_rate": RATE,
    "labour_per_h": PRICE,
    "lost_per_s": PRICE,
    "make_good": PRICE,
    "response": PRICE,
    "exposed_per_h": PRICE,
    "replacement": PRICE,
    "replacement_life_years": YEARS,
    "replacement_rate_ratio": RATIO,
    "overhaul": PRICE,
    "overhaul_life_years": YEARS,
    "overhaul_rate_ratio": RATIO,
    "lighter_air_ratio": SHARE,
    "lighter_per_air_h": PRICE,
}
ALLOWED = {
    PRICE: (0.0, MOST_MONEY, "an amount, 0 or more, and at most 1,000,000,000,000"),
    YEARS: (LEAST_YEARS, MOST_YEARS, "a number of years above 0, at least 0.01, and at most 1,000"),
    RATE: (0.0, MOST_RATE, "a share a year from 0 to 1, such as 0.05 for 5 %"),
    SHARE: (0.0, 1.0, "a share from 0 to 1, such as 0.5 for half"),
    RATIO: (0.0, MOST_RATIO, "a number, 0 or more, and at most 1,000, such as 0.6 for six tenths"),
}
KEYS = ("currency", *NUMBERS, "parts")


@dataclass(frozen=True)
class PartCost:
    """What changing one part of a kind costs, all told: before it fails, and after it has failed."""

    kind: str
    planned: float
    failure: float


@dataclass(frozen=True)
class Costs:
    """What the site states, in ``currency``; None is "not stated", and no number is ever put in its place.

    Money unless the name says otherwise: ``discount_rate`` is a share a year, ``_years`` years, ``_ratio`` a share of
    the rate of failures or of the air hours. What each means: docs/transports/case.md.
    """

    currency: str
    discount_rate: float | None = None
    labour_per_h: float | None = None
    lost_per_s: float | None = None
    make_good: float | None = None
    response: float | None = None
    exposed_per_h: float | None = None
    replacement: float | None = None
    replacement_life_years: float | None = None
    replacement_rate_ratio: float | None = None
    overhaul: float | None = None
    overhaul_life_years: float | None = None
    overhaul_rate_ratio: float | None = None
    lighter_air_ratio: float | None = None
    lighter_per_air_h: float | None = None
    parts: tuple[PartCost, ...] = ()

    def of_part(self, kind: str) -> PartCost | None:
        """The costs of a kind of part, or None where the site states none."""
        return next((part for part in self.parts if part.kind == kind), None)

    def text(self) -> str:
        """What is stated, as one line of JSON that ``costs_of_text`` reads back."""
        stated: dict[str, Any] = {
            each.name: value for each in fields(self) if (value := getattr(self, each.name)) not in (None, ())
        }
        if self.parts:
            stated["parts"] = {part.kind: {"planned": part.planned, "failure": part.failure} for part in self.parts}
        return json.dumps(stated, sort_keys=True, ensure_ascii=False)


def read_costs(value: object) -> Costs:
    """The table ``[costs]`` of site.toml, checked.

    Raises:
        SiteError: it is no table, has no currency, or a key is unknown or out of range.
    """
    if not isinstance(value, Mapping):
        raise wrong_setting(FILE, TABLE, value, "a table, written as [costs] with its keys below it")
    refuse_unknown(value, KEYS, f"{FILE}, [costs],")
    numbers = {key: _number(value[key], key, sort) for key, sort in NUMBERS.items() if key in value}
    return Costs(currency=_currency(value.get("currency", "")), **numbers, parts=_parts(value.get("parts", {})))


def costs_of_text(text: str | None) -> Costs | None:
    """The costs behind the text of ``Costs.text``; None for no text.

    Raises:
        SiteError: the text is not what ``Costs.text`` writes.
    """
    return read_costs(json.loads(text)) if text else None


def _currency(value: object) -> str:
    if isinstance(value, str) and 0 < len(value.strip()) <= LONGEST_UNIT:
        return value.strip()
    allowed = f'a text of at most {LONGEST_UNIT} letters such as "EUR": no amount stands without its unit'
    raise wrong_setting(FILE, "costs.currency", value, allowed)


def _number(value: object, key: str, sort: str) -> float:
    low, high, allowed = ALLOWED[sort]
    # A not-a-number compares as false with everything.
    if isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high:
        return float(value)
    raise wrong_setting(FILE, f"costs.{key}", value, allowed)


def _parts(value: object) -> tuple[PartCost, ...]:
    if not isinstance(value, Mapping):
        raise wrong_setting(FILE, "costs.parts", value, 'tables such as [costs.parts."head"]')
    return tuple(_part(str(kind), table) for kind, table in sorted(value.items()))


def _part(kind: str, table: object) -> PartCost:
    name = f'parts."{kind}"'
    if not isinstance(table, Mapping) or not kind.strip():
        raise wrong_setting(FILE, f"costs.{name}", table, "a table that names a kind of part, with planned and failure")
    refuse_unknown(table, PART_KEYS, f"{FILE}, [costs.{name}],")
    for key in PART_KEYS:
        if key not in table:
            raise wrong_setting(
                FILE, f"costs.{name}.{key}", "", "both planned and failure: one without the other says nothing"
            )
    return PartCost(kind.strip(), *(_number(table[key], f"{name}.{key}", PRICE) for key in PART_KEYS))
