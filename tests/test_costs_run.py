"""A price in site.toml is part of what pages are made of: another one makes other pages, the same one makes none."""

from __future__ import annotations

from pathlib import Path

import pytest

from pipeline.flow import run_site
from tests.test_flow import bytes_of, quiet

pytestmark = pytest.mark.slow
SITE = 'name = "Room"\ntimezone = "UTC"\nday_starts = "00:00"\nframe_rate = 25\n'
FILES = {
    "events/logs.csv": "at,machine,event,value,detail\n"
    "2031-03-01T09:55:00Z,A,roll,,\n2031-03-01T09:55:05Z,A,lock,,\n"
    "2031-03-01T09:55:00Z,B,roll,,\n2031-03-01T09:55:05Z,B,lock,,\n"
    "2031-03-01T10:30:00Z,A,unlock,,\n2031-03-01T11:00:00Z,A,stop,,\n2031-03-01T11:00:00Z,B,stop,,\n",
    "switches.csv": "at,action,channel,from_machine,to_machine,reason,by\n2031-03-01T10:30:10Z,take,One,A,B,fault,\n",
    "tickets.csv": "ticket,machine,opened,restored,closed,symptom,cause,action,part,labour_hours,parts_cost,reel,"
    "written_by\n"
    "F1,A,2031-03-01T10:40:00Z,2031-03-01T13:00:00Z,,unlocked,,,,2,,,\n",
    "bookings.csv": "booking,transmission,channel,programme,show,reel,machine,role,starts,ends\n"
    "1,T1,One,Film,,,A,air,2031-03-01T10:00:00Z,2031-03-01T11:00:00Z\n"
    "2,T1,One,Film,,,B,protect,2031-03-01T10:00:00Z,2031-03-01T11:00:00Z\n",
}


@pytest.fixture
def site(tmp_path: Path) -> Path:
    folder = tmp_path / "site"
    for name, text in {**FILES, "site.toml": SITE}.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def state(site: Path, costs: str) -> dict[str, str]:
    """A sha256 of every report file after a run with these costs."""
    (site / "site.toml").write_text(SITE + costs, encoding="utf-8")
    return bytes_of(run_site(site, narrate=quiet).index.parent)


def test_pages_follow_the_prices_stated(site: Path) -> None:
    """Two hours of work on the one ticket: with a price there is a sheet a machine, and the file holds the amounts."""
    priced = '[costs]\ncurrency = "crowns"\nlabour_per_h = 100\n'
    first = state(site, priced)
    assert {"case-a.html", "case-b.html", "data/case.csv"} <= set(first)
    assert state(site, priced) == first
    dearer = state(site, priced.replace("100", "200"))
    assert dearer["data/case.csv"] != first["data/case.csv"]
    assert dearer["case-a.html"] != first["case-a.html"]
    without = state(site, "")
    assert "case.html" in without
    assert not any(name.startswith("case-") for name in without)
    assert first["case.html"] != without["case.html"]
