"""[costs] of site.toml: what is stated comes through, what is not stays unknown, what cannot be is refused in words."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from pipeline.costs import KEYS, NUMBERS, Costs, PartCost, costs_of_text
from pipeline.errors import SiteError
from pipeline.settings import read_settings, settings_of_row

ROOT = Path(__file__).parent.parent
ROOM = 'name = "Room"\ntimezone = "UTC"\nday_starts = "00:00"\nframe_rate = 25\n'
FULL = (
    '[costs]\ncurrency = " crowns "\ndiscount_rate = 0.05\nlabour_per_h = 650\n'
    '[costs.parts."tube"]\nplanned = 30\nfailure = 40.5\n[costs.parts."head"]\nplanned = 10\nfailure = 20\n'
)


def costs(folder: Path, text: str) -> Costs | None:
    (folder / "site.toml").write_text(ROOM + text, encoding="utf-8")
    return read_settings(folder).costs


def test_a_site_without_costs_states_none(tmp_path: Path) -> None:
    assert costs(tmp_path, "") is None


def test_what_is_stated_comes_through_and_the_rest_stays_unknown(tmp_path: Path) -> None:
    read = costs(tmp_path, FULL)
    parts = (PartCost("head", 10.0, 20.0), PartCost("tube", 30.0, 40.5))
    assert read == Costs("crowns", discount_rate=0.05, labour_per_h=650.0, parts=parts)
    assert read.lost_per_s is None  # nothing is made up
    assert read.of_part("head") == parts[0]
    assert read.of_part("belt") is None


def test_no_number_has_a_default() -> None:
    bare = Costs("crowns")
    assert {getattr(bare, key) for key in NUMBERS} == {None}
    assert set(KEYS) == set(Costs.__dataclass_fields__)


def test_the_row_of_the_settings_holds_them_as_one_text_and_gives_them_back(tmp_path: Path) -> None:
    read = costs(tmp_path, FULL)
    row = read_settings(tmp_path).row()
    assert row["costs"] == (
        '{"currency": "crowns", "discount_rate": 0.05, "labour_per_h": 650.0, "parts": {"head": '
        '{"failure": 20.0, "planned": 10.0}, "tube": {"failure": 40.5, "planned": 30.0}}}'
    )
    assert settings_of_row(row) == read_settings(tmp_path)
    assert settings_of_row(row).costs == read


def test_a_row_of_a_database_from_before_has_no_costs(tmp_path: Path) -> None:
    (tmp_path / "site.toml").write_text(ROOM, encoding="utf-8")
    row = read_settings(tmp_path).row()
    assert row.pop("costs") == ""
    assert settings_of_row(row) == read_settings(tmp_path)
    assert costs_of_text("") is None


@pytest.mark.parametrize(
    ("line", "key", "allowed"),
    [
        ("labour_per_h = -1", "labour_per_h", "an amount, 0 or more"),
        ('labour_per_h = "650"', "labour_per_h", "an amount, 0 or more"),
        ("lost_per_s = nan", "lost_per_s", "an amount, 0 or more"),
        ("lost_per_s = true", "lost_per_s", "an amount, 0 or more"),
        ("make_good = inf", "make_good", "an amount, 0 or more"),
        ("response = 1e13", "response", "at most 1,000,000,000,000"),
        ("discount_rate = 5", "discount_rate", "a share a year from 0 to 1, such as 0.05 for 5 %"),
        ("replacement_life_years = 0", "replacement_life_years", "a number of years above 0"),
        ("replacement_life_years = 1e-300", "replacement_life_years", "at least 0.01"),
        ("overhaul_life_years = -4", "overhaul_life_years", "a number of years above 0"),
        ("overhaul_rate_ratio = -0.5", "overhaul_rate_ratio", "a number, 0 or more"),
        ("lighter_air_ratio = 1.5", "lighter_air_ratio", "a share from 0 to 1"),
        ("parts = 3", "parts", "tables such as"),
        ("parts.head = 3", 'parts."head"', "a table that names a kind of part"),
        ("parts.head.planned = 3", 'parts."head".failure', "both planned and failure"),
        ("parts.head = {planned = -3, failure = 1}", 'parts."head".planned', "an amount, 0 or more"),
    ],
)
def test_a_value_that_is_not_allowed_is_named_with_its_key_and_what_is(
    tmp_path: Path, line: str, key: str, allowed: str
) -> None:
    wanted = rf'^site\.toml, key costs\.{re.escape(key)}: ".*" is not allowed\. Expected .*{re.escape(allowed)}.*\.$'
    with pytest.raises(SiteError, match=wanted):
        costs(tmp_path, f'[costs]\ncurrency = "EUR"\n{line}\n')


@pytest.mark.parametrize("line", ["", "currency = 5", 'currency = ""', f'currency = "{"x" * 25}"'])
def test_no_amount_stands_without_its_unit(tmp_path: Path, line: str) -> None:
    with pytest.raises(SiteError, match=r"^site\.toml, key costs\.currency: .*no amount stands without its unit\.$"):
        costs(tmp_path, f"[costs]\n{line}\nlabour_per_h = 5\n")


def test_costs_that_are_no_table_are_refused(tmp_path: Path) -> None:
    with pytest.raises(SiteError, match=r'key costs: "5" is not allowed\. Expected a table, written as \[costs\]'):
        costs(tmp_path, "costs = 5\n")


def test_a_mistyped_key_is_not_passed_over(tmp_path: Path) -> None:
    with pytest.raises(SiteError, match=r'^site\.toml, \[costs\], has the unknown key "labour_per_hour"\. Did you'):
        costs(tmp_path, '[costs]\ncurrency = "EUR"\nlabour_per_hour = 5\n')
    with pytest.raises(SiteError, match=r'unknown key "tea"\. Known keys: currency, discount_rate'):
        costs(tmp_path, '[costs]\ncurrency = "EUR"\ntea = 5\n')
    with pytest.raises(SiteError, match=r'\[costs\.parts\."head"\], has the unknown key "plan"\. Did you mean planned'):
        costs(tmp_path, '[costs]\ncurrency = "EUR"\n[costs.parts.head]\nplan = 1\nfailure = 2\n')


def test_the_limits_themselves_are_allowed(tmp_path: Path) -> None:
    text = "discount_rate = 1\nlabour_per_h = 0\nlighter_air_ratio = 0\noverhaul_life_years = 1000\n"
    read = costs(tmp_path, f'[costs]\ncurrency = "EUR"\n{text}')
    assert read == Costs("EUR", discount_rate=1.0, labour_per_h=0.0, lighter_air_ratio=0.0, overhaul_life_years=1000.0)


def test_every_key_is_described() -> None:
    page = (ROOT / "docs" / "transports" / "case.md").read_text(encoding="utf-8")
    for key in (*(key for key in KEYS if key != "parts"), 'parts."head".planned', 'parts."head".failure'):
        assert f"| `{key}` |" in page, key
