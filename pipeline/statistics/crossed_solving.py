"""The likeliest effects of crossed factors at given variances, and their joint covariance.

A room has thousands of reels and a handful of machines. Reels never share a cell, so their block of the information
matrix is diagonal and is taken out first (Schur complement); what is left is as small as the other factors.

Products are summed by numpy itself: a linear algebra library shares such small ones among threads, which takes longer
than the sums do and makes the last digits hang on how many threads there are.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy import linalg

from pipeline.statistics.arguments import FloatArray, IntArray

_STEPS, _HALVINGS = 100, 40
_ENOUGH = 1e-13  # change of the penalised log-likelihood, in relation to it
_NULL = 1e-9  # eigenvalues below it, in relation to the largest, belong to what the factors share with the intercept


@dataclass(frozen=True, eq=False)
class Design:
    """Cells and the level of each factor they belong to; the last factor is the one that is taken out first."""

    counts: FloatArray
    exposures: FloatArray  # all above 0
    codes: tuple[IntArray, ...]
    sizes: tuple[int, ...]  # levels of each factor

    @property
    def edges(self) -> list[tuple[int, int]]:
        """Where each factor but the last has its levels among the narrow parameters, the intercept being first."""
        return list(pairwise(np.cumsum([1, *self.sizes[:-1]]).tolist()))

    def spread(self, narrow: FloatArray, wide: FloatArray) -> FloatArray:
        """The log rate of every cell."""
        total = narrow[0] + wide[self.codes[-1]]
        for code, (start, stop) in zip(self.codes, self.edges, strict=False):
            total = total + narrow[start:stop][code]
        return np.asarray(total)

    def gather(self, cells: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Sums of a quantity of the cells by narrow parameter and by level of the last factor."""
        sums = [np.bincount(code, cells, size) for code, size in zip(self.codes, self.sizes, strict=True)]
        return np.concatenate([[cells.sum()], *sums[:-1]]), np.asarray(sums[-1], dtype=np.float64)

    def information(self, weights: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Blocks of the information: narrow by narrow, narrow by wide, and the diagonal of wide by wide."""
        first, last = self.gather(weights)
        square, border = np.diag(first), np.zeros((first.size, last.size))
        square[0, :] = square[:, 0] = first
        border[0] = last
        places = list(zip(self.codes, self.edges, strict=False))
        for number, (code, (start, stop)) in enumerate(places):
            border[start:stop] = _cross(code, self.codes[-1], (stop - start, last.size), weights)
            for other, (begin, end) in places[:number]:
                square[start:stop, begin:end] = _cross(code, other, (stop - start, end - begin), weights)
                square[begin:end, start:stop] = square[start:stop, begin:end].T
        return square, border, last


def _cross(rows: IntArray, columns: IntArray, shape: tuple[int, int], weights: FloatArray) -> FloatArray:
    sums = np.bincount(rows * shape[1] + columns, weights, shape[0] * shape[1])
    return np.asarray(sums, dtype=np.float64).reshape(shape)


@dataclass(frozen=True, eq=False)
class Solved:
    """The mode at given variances: effects, terms of the marginal likelihood, and what the covariance is made of."""

    narrow: FloatArray
    wide: FloatArray
    log_likelihood: float  # without the penalty and the terms of the counts alone
    penalised: float
    log_determinant: float  # of the information with the penalty, without its null directions
    inverse: FloatArray  # of the narrow block once the wide one is taken out
    border: FloatArray
    diagonal: FloatArray

    def times_inverse(self, narrow: FloatArray, wide: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The covariance matrix times a vector, in both parts."""
        first = self.inverse @ (narrow - _times(self.border, wide / self.diagonal))
        return first, (wide - _times(self.border.T, first)) / self.diagonal

    def shared(self) -> FloatArray:
        """The covariance of narrow with wide parameters, its sign turned."""
        return np.asarray(np.einsum("ij,jk->ik", self.inverse, self.border / self.diagonal))

    def wide_variances(self, shared: FloatArray | None = None) -> FloatArray:
        """The diagonal of the covariance of the wide factor; ``shared`` spares working it out again."""
        shared = self.shared() if shared is None else shared
        return np.asarray(1.0 / self.diagonal + np.einsum("ij,ij->j", self.border / self.diagonal, shared))

    def cell_variances(self, design: Design) -> tuple[FloatArray, FloatArray]:
        """The variance of every cell's log rate, and of every effect of the wide factor."""
        shared = self.shared()
        wide, last = self.wide_variances(shared), design.codes[-1]
        places = [np.zeros_like(last)]
        places += [start + code for code, (start, _) in zip(design.codes, design.edges, strict=False)]
        total = wide[last]
        for number, rows in enumerate(places):
            total = total - 2.0 * shared[rows, last] + self.inverse[rows, rows]
            for columns in places[:number]:
                total = total + 2.0 * self.inverse[rows, columns]
        return total, wide


def slopes(design: Design, solved: Solved, precisions: FloatArray) -> FloatArray:
    """How the Laplace log marginal likelihood rises with each precision above 0, one slope a factor.

    ½ n / p − ½ Σ u² − ½ tr(C E) + ½ Σ_l z_l u_l, with C the covariance, E the ones of the factor's own levels, and
    z = C Xᵀ(m h), where m are the cells' means and h the variances of their log rates: the mode moves by −C E u, and
    with it the information, ln |H| by −Σ z u. Precision 0: slope 0.

    Reference: Breslow and Clayton (1993), JASA 88:9-25, for the likelihood; its slope is worked out here.
    """
    spread, wide_variances = solved.cell_variances(design)
    means = design.exposures * np.exp(design.spread(solved.narrow, solved.wide))
    drawn = solved.times_inverse(*design.gather(means * spread))
    own = np.diag(solved.inverse)
    blocks = [(solved.narrow[i:j], drawn[0][i:j], own[i:j]) for i, j in design.edges]
    blocks.append((solved.wide, drawn[1], wide_variances))
    return np.array([
        (u.size / p - float((u * u).sum()) - float(variances.sum()) + float((z * u).sum())) / 2.0 if p else 0.0
        for p, (u, z, variances) in zip(precisions.tolist(), blocks, strict=True)
    ])  # fmt: skip


def _times(matrix: FloatArray, vector: FloatArray) -> FloatArray:
    return np.asarray(np.einsum("ij,j->i", matrix, vector))


def solve(design: Design, precisions: FloatArray, start: tuple[FloatArray, FloatArray]) -> Solved:
    """Newton's method with halved steps on Σ (y η − t e^η) − ½ Σ precision u²; precision 0 is no penalty.

    Raises:
        ValueError: no finite maximum is reached, as where a level without an event has no penalty.
    """
    penalty = np.concatenate([[0.0], *(np.full(s, p) for s, p in zip(design.sizes[:-1], precisions, strict=False))])
    wide_penalty = float(precisions[-1])
    (narrow, wide), value = start, _penalised(design, start, penalty, wide_penalty)
    for _ in range(_STEPS):
        means = design.exposures * np.exp(design.spread(narrow, wide))
        square, border, diagonal = design.information(means)
        diagonal = diagonal + wide_penalty
        first, last = design.gather(design.counts - means)
        first, last = first - penalty * narrow, last - wide_penalty * wide
        taken_out = np.einsum("ij,kj->ik", border / diagonal, border)
        inverse, log_determinant = _invert(square + np.diag(penalty) - taken_out)
        move = inverse @ (first - _times(border, last / diagonal))
        wide_move = (last - _times(border.T, move)) / diagonal
        stepped, new = _shorten(design, (narrow, wide), (move, wide_move), (penalty, wide_penalty, value))
        gain, value = new - value, new
        narrow, wide = stepped
        if gain <= _ENOUGH * (1.0 + abs(value)):
            log_likelihood = _penalised(design, stepped, 0.0 * penalty, 0.0)
            whole = log_determinant + float(np.log(diagonal).sum())
            return Solved(narrow, wide, log_likelihood, value, whole, inverse, border, diagonal)
    raise ValueError("counts have no finite estimate; allowed is a penalty, or an event at every level without one.")


def _shorten(
    design: Design,
    at: tuple[FloatArray, FloatArray],
    move: tuple[FloatArray, FloatArray],
    held: tuple[FloatArray, float, float],
) -> tuple[tuple[FloatArray, FloatArray], float]:
    """The first of the halved steps that does not lower the penalised log-likelihood; none of them: no step."""
    penalty, wide_penalty, value = held
    length = 1.0
    for _ in range(_HALVINGS):
        there = (at[0] + length * move[0], at[1] + length * move[1])
        new = _penalised(design, there, penalty, wide_penalty)
        if new >= value:
            return there, new
        length /= 2.0
    return at, value


def _penalised(design: Design, at: tuple[FloatArray, FloatArray], penalty: FloatArray, wide_penalty: float) -> float:
    logs = design.spread(*at)
    with np.errstate(over="ignore"):
        plain = (design.counts * logs - design.exposures * np.exp(logs)).sum()
    return float(plain - (penalty * at[0] ** 2).sum() / 2.0 - wide_penalty * (at[1] ** 2).sum() / 2.0)


def _invert(matrix: FloatArray) -> tuple[FloatArray, float]:
    """Inverse and log-determinant of a symmetric matrix, both without its null directions."""
    values, vectors = linalg.eigh(matrix)
    kept = values > _NULL * values[-1]
    part = vectors[:, kept]
    return (part / values[kept]) @ part.T, float(np.log(values[kept]).sum())
