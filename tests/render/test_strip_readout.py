"""What the script reads out of a strip: instants in milliseconds, the wall clock, and the words of each lane."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from pipeline.render.incident_strip import scene_of
from pipeline.render.reading import Reading
from pipeline.render.strip_readout import strip_readout
from pipeline.render.strip_scene import Scene
from pipeline.render.words import Local
from tests.render.small_room import SETTINGS, at

LOCAL = Local(SETTINGS.zone)
EMPTY = Scene(
    channel="One", machines=(), roles={}, feeds=[], spans=[], states=[], not_known=[], motions=[], offsets=[],
    events=[], tickets=[], maintenance=[], keys=(), tolerance_s=0.04,
)  # fmt: skip


def read_out(scene: Scene, started: datetime, ended: datetime) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(strip_readout(scene, started, ended, LOCAL))
    return found


def test_the_strip_of_an_incident_is_told_lane_by_lane(reading: Reading) -> None:
    incident = reading.incidents[0]
    scene = scene_of(reading, incident, "One", reading.shown[incident["incident"]])
    data = read_out(scene, at("02-10 19:19:30"), at("02-10 19:20:30"))
    lanes = {lane["name"]: lane for lane in data["lanes"]}
    # T1 loses the picture at 19:20:00 by its own clock, which is 2 s ahead: 28 s after the strip's beginning. T2 is
    # taken at 19:20:12, 42 s after it.
    assert lanes["Selector"]["spans"] == [[0, 42_000, "T1"], [42_000, 60_000, "T2"]]
    assert lanes["Air"]["spans"][:2] == [[0, 28_000, "covered"], [28_000, 42_000, "lost"]]
    assert lanes["T1"]["spans"] == [[0, 28_000, "good"], [28_000, 60_000, "rolling and not good"]]
    assert lanes["T1"]["said"][-1] == [28_000, "picture lost"]
    assert data["to"] == 60_000
    assert data["start"] == 28_000
    assert data["places"] is True


def test_a_change_of_the_clocks_is_told() -> None:
    # Stockholm goes from CET to CEST at 01:00 UTC on 30 March 2031: from +3,600 s to +7,200 s.
    data = read_out(EMPTY, at("03-30 00:30:00"), at("03-30 01:30:00"))
    assert data["offsets"] == [[0, 3600, "CET"], [1_800_000, 7200, "CEST"]]
    assert read_out(EMPTY, at("02-01 00:30:00"), at("02-01 01:30:00"))["offsets"] == [[0, 3600, "CET"]]
    # 30 March 2031 00:30 UTC is 22,368 days and half an hour after the beginning of 1970.
    assert data["from"] == (22_368 * 86_400 + 1_800) * 1000
    assert data["places"] is False


def test_a_stretch_that_has_not_ended_lasts_to_the_strip_s_end() -> None:
    pair = {"machine_a": "T1", "machine_b": "T2", "started_at_utc": at("02-01 00:00:10"), "ended_at_utc": None}
    scene = replace(EMPTY, pair_states=[{**pair, "is_in_step": None}])
    lane = read_out(scene, at("02-01 00:00:00"), at("02-01 00:01:00"))["lanes"][-1]
    assert lane["name"] == "T1 with T2"
    assert lane["spans"] == [[10_000, 60_000, "not proved in step"]]


def test_instants_between_milliseconds_are_rounded() -> None:
    feed = {"feed": "T1", "started_at_utc": at("02-01 00:00:00") + timedelta(microseconds=1600)}
    scene = replace(EMPTY, feeds=[{**feed, "ended_at_utc": at("02-01 00:00:30")}])
    lanes = read_out(scene, at("02-01 00:00:00"), at("02-01 00:01:00"))["lanes"]
    assert lanes[0]["spans"] == [[2, 30_000, "T1"]]
