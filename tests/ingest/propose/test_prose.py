"""Logs whose lines are sentences, and texts that are no logs."""

from __future__ import annotations

from io import BytesIO

import pytest

from pipeline.ingest.dialect import Dialect
from pipeline.ingest.propose.contents import Contents
from pipeline.ingest.propose.prose import propose_prose
from pipeline.ingest.propose.sample import take_sample
from pipeline.ingest.text.csv_reader import read_csv


def _proposed(*lines: str, file: str = "a.txt") -> Contents | None:
    batches = read_csv(BytesIO("\n".join(lines).encode()), file, Dialect("\t", "", "utf-8", 0))
    return propose_prose(take_sample(batches, file, is_whole=True), file)


@pytest.mark.parametrize(
    "stamp", ["2031-03-09T20:00:00Z", "09.03.2031 20:00:00", "03/09/2031 08:00:00 PM", "Mar  9 20:00:00", "20:00:00"]
)
def test_time_machine_and_event(stamp: str) -> None:
    contents = _proposed(*(f"{stamp} VT{k % 2 + 1}: {'ROLL' if k % 3 else 'OFFSET 0.02'}" for k in range(12)))
    assert contents is not None
    ((theirs, parts),) = contents.parts
    assert theirs == "column 1"
    assert parts.names == {"at", "machine", "event", "value"}
    assert parts.events == {"ROLL": 8, "OFFSET": 4}
    assert {text for _, text in contents.times[0].cells} == {" ".join(stamp.split())}


def test_a_machine_that_only_the_name_of_the_file_tells_is_a_hint() -> None:
    contents = _proposed("20:00:00 tape rolling", "20:00:01 tape stopped", file="logs/VT3_old.txt")
    assert contents is not None
    assert contents.missing == (("machine", "VT3"),)


def test_texts_that_begin_with_no_time_are_no_log() -> None:
    assert _proposed("once upon a time", "there was a machine") is None
