"""The front page: the period, the whole in a few sentences, incidents newest first, and what the site leaves open."""

from __future__ import annotations

import re
from typing import Any

from pipeline.render.index import period, site_not_known, summary
from pipeline.render.reading import Reading
from tests.render.conftest import Rendered


def test_period() -> None:
    months = [{"month": "2031-02"}, {"month": "2031-04"}]
    assert period({"months": months}) == "February 2031 to April 2031"
    assert period({"months": months[:1]}) == "February 2031"
    assert period({"months": []}) == "no air time"


def test_summary_is_built_from_the_totals() -> None:
    total: dict[str, Any] = {"air_s": 708.4 * 3600, "lost_s": 719.0, "interruptions": 92, "protect_switches": 66}
    total |= {"forced": 56, "precaution": 7, "unexplained": 3, "demands": 89, "demands_met": 48}
    total |= {"demands_healed": 29, "rescued_s": 224.1}
    assert summary({"months": [{}, {}, {}], "total": total}) == (
        "Over 3 months the room was on air for 708.4 h and lost 11 min 59 s in 92 interruptions. For another "
        "3 min 44 s, which is no air time, a source not of this room stood in for it. It made 66 protect switches (56 "
        "forced, 7 as a precaution, 3 unexplained). Protect was needed 89 times and met the need 48 times. "
        "Air came back by itself 29 times and protect failed twelve times."  # 89 − 48 − 29 = 12
    )
    assert summary({"months": [], "total": {"air_s": 0.0}}).startswith("The bookings hold no air time")


def test_incidents_newest_first_and_months_in_order(rendered: Rendered) -> None:
    page = rendered.text("index.html")
    begun = re.findall(r'href="incident-[^"]+">(2031-\d\d-\d\d)', page)
    assert begun == ["2031-03-09", "2031-03-03", "2031-02-10"]
    table = page[page.index('<h2 id="months">') :]
    assert table.index('href="month-2031-02.html">Feb 2031<') < table.index('href="month-2031-03.html">Mar 2031<')


def test_what_the_site_leaves_open(reading: Reading) -> None:
    told = " ".join(site_not_known(reading))
    # 30 min of B3 in 4 h 15 min: 60 + 30 + 90 + 45 + 30 min; 1,800 / 15,300 s = 11.8 %
    assert "What was on air for 0.50 h (11.8 % of air time)" in told
    assert "What 1 row set aside would have said." in told
    assert "The cause of 2 events of 3." in told
    assert "held lock" not in told
