"""Rooms too thin or too strange for a comparison: every page comes, every number is finite, no text runs."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from pipeline.flow import run_site
from tests.finished_room import quiet
from tests.safety.room import write_room
from tests.safety.wicked import MARKUP

pytestmark = pytest.mark.slow
PAGES = ("transports", "outlook", "parts", "recording", "care", "together", "case")
LARGEST = 500_000  # bytes of a page
COSTS = """
[costs]
currency = "crowns"
discount_rate = 0
labour_per_h = {price}
lost_per_s = {price}
make_good = {price}
replacement = {price}
replacement_life_years = {life}
replacement_rate_ratio = 0.5
overhaul = {price}
overhaul_life_years = {life}
overhaul_rate_ratio = 0
lighter_air_ratio = 0
lighter_per_air_h = {price}
[costs.parts."<script>alert(9)</script>"]
planned = {price}
failure = {price}
"""


def keep(path: Path, is_kept: Callable[[str], bool]) -> None:
    header, *rows = path.read_text(encoding="utf-8").splitlines()
    path.write_text("\n".join([header, *filter(is_kept, rows)]) + "\n", encoding="utf-8")


def one_machine(site: Path) -> None:
    for path in (site / "events").iterdir():
        if path.stem != "VT1":
            path.unlink()
    for name in ("bookings", "switches", "machines", "tickets"):
        keep(site / f"{name}.csv", lambda row: not re.search("VT[234]", row))
    (site / "reels.csv").unlink()


def no_protect(site: Path) -> None:
    keep(site / "bookings.csv", lambda row: ",protect," not in row)
    keep(site / "switches.csv", lambda row: ",take," not in row)
    (site / "machines.csv").unlink()


def machines_without_a_log(site: Path) -> None:
    for name in ("VT1.csv", "VT3.csv.gz"):
        (site / "events" / name).unlink()


def one_hour(site: Path) -> None:
    for path in [*site.glob("*.csv"), *(site / "events").glob("*.csv")]:
        if path.stem not in ("machines", "reels"):
            keep(path, lambda row: "2031-03-03T20" in row or "2031-03-03T19:59" in row)
    for path in [*(site / "events").glob("*.gz"), *(site / "events").glob("*.jsonl")]:
        path.unlink()


def wicked_parts(site: Path) -> None:
    rows = [
        f'2031-03-{day:02}T10:{minute:02}:00,VT1,{word},,"{text.replace(chr(34), chr(34) * 2)}"\n'
        for minute, text in enumerate([*MARKUP, "x" * 3000, "📼", "belt\nbelt"])
        for day, word in ((4, "part_fitted"), (8, "part_fitted"), (9, "head_fitted"))
    ]
    with (site / "events" / "VT1.csv").open("a", encoding="utf-8") as file:
        file.writelines(rows)


@pytest.mark.parametrize(
    ("change", "price", "life"),
    [
        (one_machine, "0", "0.1"),
        (no_protect, "1e12", "0.01"),
        (machines_without_a_log, "5e-324", "1000"),
        (one_hour, "1e12", "0.01"),
        (wicked_parts, "650", "12"),
    ],
)
def test_an_odd_room_has_every_page(tmp_path: Path, change: Callable[[Path], None], price: str, life: str) -> None:
    site = write_room(tmp_path / "site")
    with (site / "site.toml").open("a", encoding="utf-8") as file:
        file.write(COSTS.format(price=price, life=life))
    change(site)
    pages = run_site(site, narrate=quiet).index.parent

    def refuse(word: str) -> None:
        pytest.fail(f"{word} is no number of JSON")

    json.loads((pages / "data" / "figures.json").read_text(encoding="utf-8"), parse_constant=refuse)
    for page in [pages / f"{name}.html" for name in PAGES] + sorted(pages.glob("case-*.html")):
        text = page.read_text(encoding="utf-8")
        assert page.stat().st_size < LARGEST
        assert not re.search(r"<script>alert|<img src=x|<svg/onload|<iframe src=java", text)
        assert not re.search(r"\b(nan|inf|Infinity|NaN)\b", re.sub(r"<[^>]*>", " ", text))
