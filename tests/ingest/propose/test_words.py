"""What words mean is proposed only where nothing else may be meant."""

from __future__ import annotations

import pytest

from pipeline.ingest.propose.words import MOST_WORDS, known_share, meaning_of, propose_words


@pytest.mark.parametrize(
    ("word", "ours"),
    [
        ("Roll", "roll"),
        ("SERVO LOCK", "lock"),
        ("LOCK LOST", "unlock"),
        ("not locked", "unlock"),
        ("line-up", "lineup"),
        ("LineUp", "lineup"),
        ("HeadFitted", "head_fitted"),
        ("Bildausfall", "picture_lost"),
        ("ljud åter", "sound_back"),
        ("TAPE STOP", "stop"),
        ("picture restord", "picture_back"),
        ("Alarm aus", "clear"),
    ],
)
def test_near_words_are_proposed(word: str, ours: str) -> None:
    assert meaning_of(word, "event").ours == ours


@pytest.mark.parametrize(
    "word",
    [
        "SPOOL",  # near nothing
        "LOCK TIME",  # says something of its own
        "ALARM LOST",  # turned round
        "no alarm",
        "stop lock",  # two of ours
        "lick",  # four letters: a slip could make it anything
        "",
        "   ",
        "\x00",
        "unlock roll",
    ],
)
def test_what_may_mean_something_else_is_asked_about(word: str) -> None:
    assert meaning_of(word, "event").ours == ""


def test_a_word_means_what_its_column_says() -> None:
    # "start" begins the tape in a machine's log, and is the remote command in the selector's.
    assert meaning_of("start", "event").ours == "roll"
    assert meaning_of("start", "action").ours == "start"
    assert meaning_of("Störung", "reason").ours == "fault"


def test_words_of_ours_need_no_line_and_others_come_by_their_rows() -> None:
    table = propose_words("event", {"roll": 9, "Stop": 2, "SPOOL": 5})
    assert [(line.theirs, line.row_count, line.meaning.ours) for line in table.lines] == [
        ("SPOOL", 5, ""),
        ("Stop", 2, "stop"),
    ]
    assert table.as_ours_count == 1
    assert [line.theirs for line in table.unknown] == ["SPOOL"]


def test_known_share_counts_rows() -> None:
    # 9 and 2 rows of 16 are known.
    assert known_share("event", {"roll": 9, "Stop": 2, "SPOOL": 5}) == pytest.approx(11 / 16)
    assert known_share("event", {}) == 0.0


def test_unknown_texts_that_differ_in_their_numbers_are_told_by_their_beginnings() -> None:
    counts = (
        {f"REEL MOTOR {k}": 2 for k in range(5)}
        | {f"drum {k}": 1 for k in range(3)}
        | {"Stop": 1, "cue 1": 1, "SPOOL": 1}
    )
    table = propose_words("event", counts)
    assert table.begins == (("reel motor", 10), ("drum", 3))
    assert {line.theirs for line in table.lines} == {"Stop", "cue 1", "SPOOL"}


def test_no_more_words_are_listed_than_a_person_reads() -> None:
    table = propose_words("event", {f"word{k}": 1 for k in range(1000)} | {"x" * 500: 9})
    assert len(table.lines) <= MOST_WORDS
    assert table.left_out_count == 1001 - MOST_WORDS
    assert sum(count for _, count in table.begins) == MOST_WORDS
