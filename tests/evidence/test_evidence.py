"""Every number of figures.json is the sum of its lines, or the stated formula of such sums, to the last bit.

What is expected is figures.json itself, made by other models; two figures are added up here from the raw files alone.
"""

from __future__ import annotations

import csv
import json
import shutil
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from pipeline.errors import FigureError
from pipeline.evidence import Scope
from pipeline.places import DATABASE
from pipeline.store import Store
from tests.evidence.rooms import SAMPLE, Room, reopened
from tests.evidence.walk import NOT_LISTED, check_all, is_left_out, walk


def test_every_number_of_the_sample_room_is_its_lines(sample: Room) -> None:
    """24 groups of some 50 figures, 35 files, 20 causes and more: see the walk."""
    assert check_all(sample) > 1500


def test_every_number_of_the_second_room_is_its_lines(second: Room) -> None:
    assert check_all(second) > 500


def test_every_number_of_the_tiny_room_is_its_lines(tiny: Room) -> None:
    assert check_all(tiny) > 200


def test_what_is_left_out_is_there_and_said_in_the_docs(sample: Room) -> None:
    """Beside what is judged of the transports, which the docs set apart as a whole, most numbers are listed."""
    others = [path for path, _ in walk(sample.figures) if path[0] != "transports"]
    assert sum(map(is_left_out, others)) < len(others) / 2
    assert all(reason for reason in NOT_LISTED.values())


def test_unknown_figures_are_lines_too(sample: Room) -> None:
    """A figure that is not known (None) is listed, and comes out as None anew: Night has one take, so no 90 % time."""
    lines = sample.evidence.lines("to_service_s.p90", Scope(channel="Night"))
    assert (lines.value, lines.total, lines.is_right) == (None, None, True)


def test_figures_of_a_derived_one_can_be_listed(sample: Room) -> None:
    for scope in sample.evidence.scopes():
        for figure in (*sample.evidence.figures(scope), *sample.evidence.further_figures(scope)):
            lines = sample.evidence.lines(figure, scope)
            for name in lines.of:
                assert sample.evidence.lines(name, lines.of_scope).is_right, (figure, name)


def test_stretches_of_air_follow_each_other_and_machines_make_the_total(sample: Room) -> None:
    """On a channel no two stretches overlap; those of machines and those on standby are those of the total."""
    items = sample.evidence.lines("air_s", Scope()).items
    for _, rows in items.group_by("channel"):
        ordered = rows.sort("started_at_utc")
        assert (ordered["started_at_utc"][1:] >= ordered["ended_at_utc"][:-1]).all()
    of_machines = sum(
        sample.evidence.lines("air_s", Scope(machine=entry["machine"])).items.height
        for entry in sample.figures["machines"]
    )
    assert of_machines + sample.evidence.lines("standby.air_s", Scope()).items.height == items.height


def stamps(file: str, machine: str, event: str, day: str) -> list[datetime]:
    """Stamps of one machine's event on a day, as the file has them; without an offset the site's zone is +01:00 then.

    2031-03-30 is the day of the change to summer time at 01:00 UTC; the stamp used is before it.
    """
    with (SAMPLE / file).open(encoding="utf-8", newline="") as stream:
        rows = [row for row in csv.DictReader(stream) if row["machine"] == machine and row["event"] == event]
    read = [datetime.fromisoformat(row["at"]) for row in rows if row["at"].startswith(day)]
    return [(at if at.tzinfo else at.replace(tzinfo=UTC) - timedelta(hours=1)).astimezone(UTC) for at in read]


def test_lost_air_of_a_channel_in_a_month_added_up_from_the_raw_lines(sample: Room) -> None:
    """Night, March 2031 (broadcast days from 06:00 local: 1 March 05:00 UTC to 1 April 04:00 UTC, summer time by then).

    VT6 is lost across the month's beginning: its clock is 42 s ahead, so its picture is back at 05:00:44 − 42 s; VT4
    from its loss to the take away from it; VT5 from its loss to the month's end: 2.0 + 6.619 + 1.5 = 10.119 s.
    """
    begin, end = datetime(2031, 3, 1, 5, tzinfo=UTC), datetime(2031, 4, 1, 4, tzinfo=UTC)
    (back,) = stamps("events/VT6_2031-03.csv", "VT6", "picture_back", "2031-03-01T05:00")
    first = back - timedelta(seconds=42) - begin
    (lost,) = stamps("events/VT4_2031-03.csv", "VT4", "picture_lost", "2031-03-30T01:59:59")
    with (SAMPLE / "switches.csv").open(encoding="utf-8", newline="") as stream:
        takes = [row for row in csv.DictReader(stream) if row["channel"] == "Night" and row["from_machine"] == "VT4"]
    away = min(at for row in takes if (at := datetime.fromisoformat(row["at"]).astimezone(UTC)) > lost)
    (late,) = stamps("events/VT5_2031-04.csv", "VT5", "picture_lost", "2031-04-01T03:59:58")
    total = first + (away - lost) + (end - late)
    assert total == timedelta(seconds=10.119)
    lines = sample.evidence.lines("lost_s", Scope(month="2031-03", channel="Night"))
    assert timedelta(seconds=lines.total or 0) == total
    assert lines.items["amount_us"].to_list() == [2_000_000, 6_619_000, 1_500_000]


def test_the_tiny_evening_by_hand(tiny: Room) -> None:
    """See tiny.py. Air 3,600 − 60 s (ruled no air); lost 4.5 s; B fed from 19:10:04.5, and is not known from 19:43 to
    19:50: 420 s; one forced switch, one interruption, met by the take to B that covered before."""
    total = {name: tiny.evidence.lines(name, Scope()).total for name in ("air_s", "lost_s", "unknown_s")}
    assert total == {"air_s": 3540.0, "lost_s": 4.5, "unknown_s": 420.0}
    counts = ("interruptions", "forced", "demands", "demands_met", "planned")
    assert [tiny.evidence.lines(name, Scope()).total for name in counts] == [1, 1, 1, 1, 0]
    assert tiny.evidence.lines("continuity", Scope()).total == 1 - 4_500_000 / 3_120_000_000
    assert tiny.evidence.lines("to_service_s.median", Scope()).total == 1800.0  # 19:15 to 19:45


MUTATIONS = {
    "a stretch a microsecond longer": (
        """
        update core_air_spans set ended_at_utc = ended_at_utc + interval 1 microsecond where (channel, started_at_utc)
        in (select (channel, started_at_utc) from core_air_spans where state = 'lost' order by all limit 1)
        """,
        "lost_s",
    ),
    "a stretch in another state": ("update core_air_spans set state = 'lost' where state = 'unproved'", "unproved_s"),
    "an interruption less": ("delete from core_interruptions where interruption_no = 1", "interruptions"),
    "a switch of another kind": ("update core_switches set kind = 'planned' where kind = 'forced'", "forced"),
    "a time a millisecond shorter": (
        "update core_recoveries set to_air_s = to_air_s - 0.001 where is_back",
        "to_air_s.median",
    ),
    "a row less": ("delete from raw_event_rows where event = 'hours'", "rows.kept"),
}


@pytest.mark.parametrize("mutation", MUTATIONS)
def test_a_change_in_the_tables_is_seen(sample: Room, tmp_path: Path, mutation: str) -> None:
    """The total is worked out from the tables and not copied: when they change, it no longer is the figure."""
    change, figure = MUTATIONS[mutation]
    shutil.copy(sample.site / DATABASE, tmp_path / DATABASE)
    with Store(tmp_path / DATABASE) as store:
        store.run(change)
    changed = reopened(tmp_path, sample.figures)
    try:
        lines = changed.evidence.lines(figure, Scope())
        assert lines.value == sample.evidence.lines(figure, Scope()).value
        assert lines.total != lines.value
        assert not lines.is_right
    finally:
        changed.store.close()


@pytest.mark.parametrize(
    ("figure", "scope", "told"),
    [
        ("lost", Scope(), 'no figure "lost".*Did you mean lost_s'),
        ("lost_s", Scope(month="2031-3"), 'no month "2031-3".*2031-03'),
        ("lost_s", Scope(channel="night"), 'no channel "night".*Night'),
        ("lost_s", Scope(machine="VT9"), 'no machine "VT9".*VT'),
        ("lost_s", Scope(month="2031-03", machine="VT1"), "no figures by month and machine"),
        ("read", Scope(file="switch.csv"), 'no file "switch.csv".*switches.csv'),
        ("count", Scope(cause="clogged"), 'no cause "clogged".*"heads and tape path: clogged"'),
        ("kept", Scope(file="switches.csv", month="2031-03"), "in all only"),
        ("count", Scope(cause="operations", machine="VT1"), "in all and by month"),
        ("count", Scope(pattern="reel: none"), 'no pattern "reel: none".*reel: '),
        ("count", Scope(pattern="machine: VT1", month="2031-03"), "in all only"),
        ("", Scope(), 'no figure ""'),
    ],
)
def test_what_is_not_there_is_said_in_one_line_with_near_names(
    sample: Room, figure: str, scope: Scope, told: str
) -> None:
    with pytest.raises(FigureError, match=told) as raised:
        sample.evidence.lines(figure, scope)
    assert "\n" not in str(raised.value)


def test_all_groups_take_little_time(sample: Room) -> None:
    """All figures of all 24 groups, some 1,300 lists, below 1.5 s of processor time: pages ask for all of them."""
    fresh = reopened(sample.site, json.loads(json.dumps(sample.figures)))
    began = time.process_time()
    for scope in fresh.evidence.scopes():
        for figure in fresh.evidence.figures(scope):
            fresh.evidence.lines(figure, scope)
    took = time.process_time() - began
    fresh.store.close()
    assert took < 1.5
