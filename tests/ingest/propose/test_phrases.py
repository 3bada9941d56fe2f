"""Texts are cut only where a known phrase begins them and goes on as its event does."""

from __future__ import annotations

import pytest

from pipeline.ingest.propose.phrases import DETAILED, PARTNERED, UNKNOWN, VALUED, WHOLE, cut, phrase_share


@pytest.mark.parametrize(
    ("text", "shape", "phrase"),
    [
        ("ROLL", WHOLE, "ROLL"),
        ("OFFSET -0.04", VALUED, "OFFSET"),
        ("OFFSET = 0,04 s", VALUED, "OFFSET"),
        ("OFFSET 40 ms", UNKNOWN, "OFFSET 40 ms"),  # another unit than ours
        ("OFFSET VT2 0.02", PARTNERED, "OFFSET"),
        ("ALARM: tension low", DETAILED, "ALARM"),
        ("ALARM OFF", WHOLE, "ALARM OFF"),
        ("LOCK TIME 3.5", UNKNOWN, "LOCK TIME 3.5"),
        ("ROLL VT3", UNKNOWN, "ROLL VT3"),
        ("ALARM\ntension", UNKNOWN, "ALARM\ntension"),  # no pattern of one line fits it
        ("", UNKNOWN, ""),
    ],
)
def test_the_shape_of_a_text(text: str, shape: str, phrase: str) -> None:
    assert (cut(text).shape, cut(text).phrase) == (shape, phrase)


def test_phrase_share_counts_rows() -> None:
    assert phrase_share({"OFFSET 1": 3, "door open": 1}) == pytest.approx(3 / 4)
    assert phrase_share({}) == 0.0
