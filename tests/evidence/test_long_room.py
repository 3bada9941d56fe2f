"""A room of 26 months: what a month is held against has lines that say the same, and broadcast months add up."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from pipeline.evidence import Scope
from pipeline.settings import read_settings
from tests.evidence.rooms import Room, measure_room
from tests.evidence.walk import walk
from tests.long_room import write_long_room

pytestmark = pytest.mark.slow
SECONDS = ("air_s", "lost_s", "unknown_s", "covered_s", "unproved_s", "exposed_s")
COUNTS = ("interruptions", "protect_switches", "demands", "demands_met")


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Room]:
    found = measure_room(write_long_room(tmp_path_factory.mktemp("long") / "site", pairs=2, months="broadcast"))
    yield found
    found.store.close()


def test_every_comparison_of_a_month_is_worked_out_anew(room: Room) -> None:
    seen = 0
    for entry in room.figures["comparisons"]["months"]:
        scope = Scope(month=entry["month"])
        for path, value in walk(entry):
            lines = room.evidence.lines(".".join(("comparisons", *map(str, path))), scope)
            assert lines.total == lines.value == value, path
            seen += path[0] in ("past", "year_before")
    assert seen > 14 * 14  # fourteen months have twelve before them: eight numbers against these, seven a year before


def test_broadcast_months_add_up_to_the_whole(room: Room) -> None:
    """Not a second is lost or counted twice at the edges of the months, which are Mondays at six."""
    assert read_settings(room.site).months == "broadcast"
    months, total = room.figures["months"], room.figures["total"]
    # The first day played is Monday 1 January 2029, the last Friday 28 February 2031, whose Sunday is 2 March.
    assert (months[0]["month"], months[-1]["month"], len(months)) == ("2029-01", "2031-03", 27)
    for name in COUNTS:
        assert sum(month[name] for month in months) == total[name] > 0, name
    for name in SECONDS:
        assert sum(round(month[name] * 1_000_000) for month in months) == round(total[name] * 1_000_000), name
    starts = room.store.read("select started_at_utc from site_months")["started_at_utc"]
    assert {(at.isoweekday(), at.hour) for at in starts} <= {(1, 4), (1, 5)}  # six o'clock of Stockholm, in UTC
