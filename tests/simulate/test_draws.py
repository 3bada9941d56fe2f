"""The draws: published numbers of SplitMix64, and that no draw hangs on how many others there are."""

from __future__ import annotations

import numpy as np

from pipeline.simulate.draws import Draw, split_mix


def test_split_mix_gives_the_published_numbers() -> None:
    # First five numbers of the sequence with state 1234567, as rosettacode.org/wiki/Pseudo-random_numbers/Splitmix64
    # lists them (from memory).
    published = [
        6457827717110365317,
        3203168211198807973,
        9817491932198370423,
        4593380528125082431,
        16408922859458223821,
    ]
    assert split_mix(1234567, np.arange(5)).tolist() == published


def test_a_draw_hangs_on_its_key_alone() -> None:
    every = Draw.of(3, 1).uniform(np.arange(100))
    assert Draw.of(3, 1).uniform(np.array([70, 2])).tolist() == every[[70, 2]].tolist()


def test_each_call_draws_anew_and_each_purpose_for_itself() -> None:
    draw, key = Draw.of(3, 1), np.arange(50)
    first, second = draw.uniform(key), draw.uniform(key)
    assert len({*first, *second, *Draw.of(3, 2).uniform(key), *Draw.of(4, 1).uniform(key)}) == 200


def test_draws_are_spread_evenly() -> None:
    # Of n uniform draws a share p falls below p, with standard deviation sqrt(p (1 - p) / n): 0.0005 for p = 1/2 and
    # n = 1,000,000. Four of these is what one keyed sequence in some 16,000 strays at p = 1/2.
    drawn = Draw.of(11).uniform(np.arange(1_000_000))
    for share in (0.1, 0.25, 0.5, 0.9):
        assert abs(float((drawn < share).mean()) - share) < 4 * (share * (1 - share) / 1_000_000) ** 0.5
    # Neighbouring keys: the correlation of n independent pairs has standard deviation 1 / sqrt(n).
    assert abs(float(np.corrcoef(drawn[:-1], drawn[1:])[0, 1])) < 4 / 1000


def test_whole_numbers_reach_both_ends_and_no_further() -> None:
    assert set(Draw.of(1).whole(np.arange(1000), 5, 9).tolist()) == {5, 6, 7, 8}
