"""What no arithmetic tells apart: designs worked by hand, and correlations by a closed form."""

from __future__ import annotations

import math

import pytest

from pipeline.statistics import Inseparable, find_inseparable


def test_every_tape_on_one_machine_that_plays_no_others() -> None:
    found = find_inseparable([1, 1, 1, 1, 5], ["P1", "P1", "P2", "P2", "P3"], ["R1", "R2", "R1", "R2", "R3"])
    assert found == (
        Inseparable(("P1", "P2"), ("R1", "R2"), -1.0, is_cut_off=True),
        Inseparable(("P3",), ("R3",), -1.0, is_cut_off=True),
    )


def test_one_shared_hour_links_them() -> None:
    """P3 with R3 and one hour of R1: no longer cut off; what is left is a matter of how little."""
    first, second = ["P1", "P1", "P2", "P2", "P3", "P3"], ["R1", "R2", "R1", "R2", "R3", "R1"]
    assert not any(one.is_cut_off for one in find_inseparable([1, 1, 1, 1, 5, 1], first, second))
    assert find_inseparable([1, 1, 1, 1, 5, 0], first, second)[1].first == ("P3",)


def test_correlation_of_two_by_two_is_less_the_phi_of_the_table() -> None:
    """Least squares on two indicators: their coefficients correlate as the indicators do, with the other sign."""
    a, b, c, d = 100.0, 1.0, 2.0, 60.0
    phi = (a * d - b * c) / math.sqrt((a + b) * (c + d) * (a + c) * (b + d))
    found = find_inseparable([a, b, c, d], ["P1", "P1", "P2", "P2"], ["R1", "R2", "R1", "R2"])
    assert [(one.first, one.second, one.is_cut_off) for one in found] == [
        (("P1",), ("R1",), False),
        (("P2",), ("R2",), False),
    ]
    assert [one.correlation for one in found] == pytest.approx([-phi, -phi], rel=1e-9)
    assert phi > 0.9


def test_a_balanced_room_is_separable() -> None:
    players, recorders = [f"P{n}" for n in range(5)], [f"R{n}" for n in range(4)]
    cells = [(one, other) for one in players for other in recorders]
    assert find_inseparable([2.0] * 20, [a for a, _ in cells], [b for _, b in cells]) == ()
    assert find_inseparable([], [], []) == ()


def test_wrong_input_is_refused() -> None:
    with pytest.raises(ValueError, match="values"):
        find_inseparable([1.0], ["P1", "P2"], ["R1"])
    with pytest.raises(ValueError, match="correlation"):
        find_inseparable([1.0], ["P1"], ["R1"], level=0.5)
