"""Where a cause lies: on the play or the record side, outside the machine, or not told."""

from __future__ import annotations

from typing import Any

import pytest

from pipeline.measure.cause_lexicon import load_lexicon
from pipeline.render.incident_cause import SIDES
from tests.render.test_incident_words import PART, told

TICKET = {"ticket": "K-1", "machine": "T1", "file": "tickets.csv", "line": 5}


@pytest.mark.parametrize(
    ("top", "second", "where"),
    [
        ("heads and tape path", "worn", "By that it lies on the play side, with T1."),
        ("tape and recording", "recorded wrong", "on the record side, with the machine that made the recording."),
        ("tape and recording", "damage", "with the tape or its recording, not with T1."),
        ("tape and recording", "interchange", "between the machine that recorded and T1."),
        ("servo and time base", "reference lost", "outside the machine, in the reference."),
        ("cooling, air and power", "mains", "outside the machine, in the mains."),
        ("operations", "cueing", ""),
        ("not a fault", "test", ""),
    ],
)
def test_the_side_follows_from_the_cause(top: str, second: str, where: str) -> None:
    text = told(PART | {"top": top, "second": second, "grade": "stated", "words": second}, tickets=[TICKET])
    assert (where in text) if where else ("By that it lies" not in text)


def test_a_swap_says_what_the_fault_followed() -> None:
    part: dict[str, Any] = PART | {"top": "signal electronics", "second": "corrector", "grade": "proved by swap"}
    text = told(part | {"words": "corrector card"}, tickets=[TICKET])
    assert "Ticket K-1 shows the cause: Signal electronics, corrector (proved by swap: corrector card)." in text
    assert "A swap proved it: the fault went with what those words name, on the play side, with T1." in text


def test_every_cause_with_a_side_is_one_that_the_program_knows() -> None:
    known = set(load_lexicon().names.values())
    assert {cause for cause in SIDES if cause[1]} <= known
    assert {cause[0] for cause in SIDES} <= {cause[0] for cause in known}
