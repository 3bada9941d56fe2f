"""Effects that the data cannot tell apart, because of who worked with whom.

Where every tape of one recorder was played on one machine, and that machine played no other tape, no arithmetic tells
the two apart. Such designs are found from the exposures alone, before any fault is looked at.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from pipeline.statistics import arguments
from pipeline.statistics.arguments import FloatArray

_NULL = 1e-9  # eigenvalues below it, in relation to the largest, are those of directions the data say nothing of


@dataclass(frozen=True)
class Inseparable:
    """Levels of two factors whose effects are one to the data.

    Attributes:
        first: levels of the first factor.
        second: levels of the second factor.
        correlation: of the two estimates, −1 where nothing at all tells them apart; for a group of levels always −1.
        is_cut_off: no exposure links these levels with any others; else they are linked, but by too little.

    """

    first: tuple[str, ...]
    second: tuple[str, ...]
    correlation: float
    is_cut_off: bool


def find_inseparable(
    exposures: ArrayLike, first: Sequence[str], second: Sequence[str], *, level: float = -0.9
) -> tuple[Inseparable, ...]:
    """Levels of two factors that the design cannot tell apart: cut off from all others, or nearly so.

    Levels are linked where they share exposure. Levels of both factors that hang together and are linked to no others
    (a connected component of the bipartite graph) can be compared among themselves, but whether the whole group differs
    from the rest by its first or its second factor cannot be told. Among levels that do hang together, a pair is
    inseparable where the estimates of its two effects, each against its factor's mean, correlate at ``level`` or below
    in a Poisson regression with the two factors, at equal rates everywhere (information = exposure): at −0.9 each is
    known with a fifth of the information it would have alone.

    Args:
        exposures: exposure of each cell, shape (n,).
        first: the first factor's level of every cell, shape (n,).
        second: the second factor's level of every cell, shape (n,).
        level: correlation, from −1 to 0.

    Returns:
        Groups that are cut off, in order of first appearance, none where all hangs together; then the pairs.

    Raises:
        ValueError: an exposure is negative or not finite, lengths differ, or level is outside [-1, 0].

    Reference: Searle (1987), Linear Models for Unbalanced Data, chapter 5 (connectedness).
    """
    extent = arguments.not_negative("exposures", exposures)
    if not -1.0 <= arguments.number("level", level) <= 0.0:
        raise arguments.refuse("level", level, "a correlation from -1 to 0")
    if not extent.size == len(first) == len(second):
        raise ValueError(f"exposures, first and second have {extent.size}, {len(first)} and {len(second)} values.")
    rows, columns, shared = _shared(extent, first, second)
    if not rows or not columns:
        return ()
    count, groups = _components(shared)
    cut_off = [_group(number, groups, rows, columns) for number in range(count)] if count > 1 else []
    near: list[Inseparable] = []
    for number in range(count):
        mine, theirs = np.flatnonzero(groups[0] == number), np.flatnonzero(groups[1] == number)
        if mine.size > 1 and theirs.size > 1:
            found = _correlations(shared[np.ix_(mine, theirs)])
            near += [
                Inseparable((rows[mine[i]],), (columns[theirs[j]],), float(found[i, j]), is_cut_off=False)
                for i, j in np.argwhere(found <= level)
            ]
    return (*cut_off, *near)


def _shared(extent: FloatArray, first: Sequence[str], second: Sequence[str]) -> tuple[list[str], list[str], FloatArray]:
    """Levels of both factors in order of first appearance, and the exposure that each two share."""
    cells = [(a, b, e) for a, b, e in zip(first, second, extent, strict=True) if e > 0.0]
    rows, columns = list(dict.fromkeys(a for a, _, _ in cells)), list(dict.fromkeys(b for _, b, _ in cells))
    row, column = ({name: number for number, name in enumerate(names)} for names in (rows, columns))
    shared = np.zeros((len(rows), len(columns)))
    for a, b, e in cells:
        shared[row[a], column[b]] += e
    return rows, columns, shared


def _components(shared: FloatArray) -> tuple[int, tuple[np.ndarray, np.ndarray]]:
    """How many groups hang together, and the group of every row and every column."""
    rows, columns = np.nonzero(shared)
    height, width = shared.shape
    graph = coo_matrix((np.ones(rows.size), (rows, columns + height)), shape=(height + width, height + width))
    count, labels = connected_components(graph, directed=False)
    return int(count), (labels[:height], labels[height:])


def _group(number: int, groups: tuple[np.ndarray, np.ndarray], rows: list[str], columns: list[str]) -> Inseparable:
    mine, theirs = (np.flatnonzero(side == number) for side in groups)
    return Inseparable(tuple(rows[i] for i in mine), tuple(columns[j] for j in theirs), -1.0, is_cut_off=True)


def _correlations(shared: FloatArray) -> FloatArray:
    """Correlation of every row's effect with every column's, each against its factor's mean weighed with exposure."""
    row_sums, column_sums = shared.sum(axis=1), shared.sum(axis=0)
    information = np.block([[np.diag(row_sums), shared], [shared.T, np.diag(column_sums)]])
    values, vectors = np.linalg.eigh(information)
    kept = values > _NULL * values[-1]
    covariance = (vectors[:, kept] / values[kept]) @ vectors[:, kept].T
    height, width = shared.shape
    centre = np.zeros((height + width, height + width))
    centre[:height, :height] = np.eye(height) - row_sums / row_sums.sum()
    centre[height:, height:] = np.eye(width) - column_sums / column_sums.sum()
    spread = centre @ covariance @ centre.T
    scale = np.sqrt(np.maximum(np.diag(spread), 0.0))
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = spread[:height, height:] / np.outer(scale[:height], scale[height:])
    return np.asarray(np.nan_to_num(ratio))
