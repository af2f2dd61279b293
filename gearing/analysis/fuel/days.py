"""Days compared: each day's fuel over what its road asked, roads driven again taken out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from gearing.statistics.arrays import distinct, sum_by

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from gearing.analysis.fuel.rows import Rows
    from gearing.statistics.arrays import Array, Index

ROUNDS = 6
NEWTON_STEPS = 12
CLOSE = 1e-9
# of a Newton step: a rough one is followed by another, and one nearer than rounding never ends
ROUGH, EXACT = 1e-3, 1e-9
TINY = 1e-30
RIDGE = 1e-9  # of a day's fuel, where the matrix is singular
UNJOINED = 1.0  # variance of the logarithm between days that no road joins: anything
UNSURE, MAX_UNSURE = 4.0, 40  # times the usual variance of a level; at most so many vectors
MIN_SHARED_M = 300.0  # of a cell on either side, for it to count as driven on both
MAX_JOINED_DAYS = 1000


@dataclass(frozen=True, slots=True)
class Table:
    """Sums per pair of road cell and day; rows without a position share one cell a day."""

    cell: Index
    day: Index
    fuel: Array
    distance_m: Array
    row_pair: Index  # the pair of each row
    cells: int
    days: int

    def sums(self, per_row: Array) -> Array:
        """Sums of a figure of each row by pair, (pairs,)."""
        return sum_by(self.row_pair, per_row, len(self.cell))


def make_table(rows: Rows) -> Table:
    """Pairs of cell and day; each row without a cell counts toward a cell of its day alone."""
    days = len(rows.days)
    lost = rows.cell < 0
    _, cell = distinct(rows.cell)
    cell = np.where(lost, cell.max() + 1 + rows.day, cell)
    keys, pair = distinct(cell * days + rows.day)
    fuel = sum_by(pair, rows.fuel_l)
    distance = sum_by(pair, rows.distance_m)
    return Table(keys // days, keys % days, fuel, distance, pair, int(cell.max()) + 1 + days, days)


def shared_cells(table: Table, after: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Cells driven on both sides, for 300 m each at least; `after` (days,)."""
    side = after[table.day]
    way = [
        np.bincount(
            table.cell[side == s], weights=table.distance_m[side == s], minlength=table.cells
        )
        for s in (False, True)
    ]
    return np.asarray(np.minimum(*way) >= MIN_SHARED_M)


def day_levels(
    table: Table, asked: Array, *, shrinkage: float, used: NDArray[np.bool_] | None = None
) -> Array:
    """Logarithm of each day's fuel over what its cells usually take; NaN for a day without.

    Fuel of a cell on a day is taken as day level x cell factor x `asked` (pairs,). A cell's
    factor is drawn to one by `shrinkage` cells' worth of fuel (0: free, and then only cells driven
    on both sides may be `used`). A few rounds of fitting levels and factors in turn, then
    Newton's steps on the levels with the factors following.
    """
    keep = asked > 0 if used is None else used[table.cell] & (asked > 0)
    cell, day, fuel, want = table.cell[keep], table.day[keep], table.fuel[keep], asked[keep]
    total, burnt = sum_by(day, want, table.days), sum_by(day, fuel, table.days)
    present = (total > 0) & (burnt > 0)
    pull = shrinkage * float(np.mean(fuel)) if len(fuel) else 0.0
    spent = sum_by(cell, fuel, table.cells) + pull
    scale = float(fuel.sum() / want.sum()) if want.sum() > 0 else 1.0
    level = np.full(table.days, np.log(scale))
    for _ in range(ROUNDS):
        factor = _factors(table, cell, day, want, level, spent, pull)
        moved = burnt[present] / sum_by(day, factor[cell] * want, table.days)[present]
        level[present] = np.log(moved)
    for _ in range(NEWTON_STEPS):
        factor = _factors(table, cell, day, want, level, spent, pull)
        expected = np.exp(level)[day] * factor[cell] * want
        short = burnt - sum_by(day, expected, table.days)
        step = _solve(table, cell, day, expected, pull * factor, short[:, None], ROUGH)[:, 0]
        level = level + np.clip(np.where(present, step, 0.0), -0.5, 0.5)
        if np.max(np.abs(step[present]), initial=0.0) < CLOSE:
            break
    return np.where(present, level, np.nan)


def level_slopes(
    table: Table, asked: Array, levels: Array, slopes: Array, *, shrinkage: float
) -> Array:
    """How `day_levels` move with what `asked` depends on.

    `slopes` (pairs, p) is the derivative of `asked`; (days, p), NaN for a day without a level.
    """
    keep = (asked > 0) & np.isfinite(levels)[table.day]
    cell, day, want = table.cell[keep], table.day[keep], asked[keep]
    pull = shrinkage * float(np.mean(table.fuel[asked > 0]))
    spent = sum_by(cell, table.fuel[keep], table.cells) + pull
    level = np.where(np.isfinite(levels), levels, 0.0)
    factor = _factors(table, cell, day, want, level, spent, pull)
    expected = np.exp(level)[day] * factor[cell] * want
    held = sum_by(cell, expected, table.cells) + pull * factor
    right = np.empty((table.days, slopes.shape[1]))
    for index in range(slopes.shape[1]):
        relative = slopes[keep, index] / want
        of_cell = sum_by(cell, expected * relative, table.cells) / np.maximum(held, TINY)
        right[:, index] = -sum_by(day, expected * (relative - of_cell[cell]), table.days)
    moved = _solve(table, cell, day, expected, pull * factor, right, EXACT)
    return np.where(np.isfinite(levels)[:, None], moved, np.nan)


def _factors(
    table: Table, cell: Index, day: Index, want: Array, level: Array, spent: Array, pull: float
) -> Array:
    """Each cell's factor at these levels; `spent` (cells,) with `pull` in it."""
    usual = sum_by(cell, np.exp(level)[day] * want, table.cells)
    return np.asarray(spent / np.maximum(usual + pull, TINY))


def _solve(
    table: Table,
    cell: Index,
    day: Index,
    expected: Array,
    drawn: Array,
    right: Array,
    tolerance: float,
) -> Array:
    """Steps of the levels that make up for `right` (days, p), cells' factors following.

    The matrix is (day's fuel) less what its cells hand back, singular only by one constant a group
    of joined roads, which stays as it is. Of very many days it is kept sparse, and solved by
    conjugate gradients.
    """
    from scipy.linalg import solve
    from scipy.sparse import coo_array
    from scipy.sparse.linalg import LinearOperator, cg

    held = np.maximum(sum_by(cell, expected, table.cells) + drawn, TINY)
    shape = (table.days, table.cells)
    fuel = coo_array((expected, (day, cell)), shape=shape).tocsr()
    back = coo_array((expected / held[cell], (day, cell)), shape=shape).tocsr()
    own = sum_by(day, expected, table.days)
    own = np.where(own > 0, own, 1.0)
    handed = fuel.T.tocsr()
    if table.days <= MAX_JOINED_DAYS:
        whole = np.diag(own * (1 + RIDGE)) - (back @ handed).toarray()
        return np.asarray(solve(whole, right, assume_a="pos"))
    square = (table.days, table.days)
    matrix = LinearOperator(square, matvec=lambda x: own * x - back @ (handed @ x), dtype=float)
    weigh = LinearOperator(square, matvec=lambda x: x / own, dtype=float)
    columns = [cg(matrix, column, rtol=tolerance, maxiter=500, M=weigh)[0] for column in right.T]
    return np.column_stack(columns)


def joined_roads(table: Table, used: NDArray[np.bool_]) -> Index:
    """For each day, the number of the group of days joined by road in common (shape: days)."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    kept = used[table.cell]
    cell, day = table.cell[kept], table.day[kept]
    size = table.days + table.cells
    graph = coo_array((np.ones(len(cell)), (day, table.days + cell)), shape=(size, size))
    return np.asarray(connected_components(graph, directed=False)[1][: table.days])


def level_errors(
    table: Table, asked: Array, levels: Array, used: NDArray[np.bool_]
) -> tuple[Array, Array]:
    """How `day_levels` with free factors may be off together: vectors (days, p), variances (p,).

    Roads are fixed and days random: where days hang together by little road, by a crossing or by
    none, the difference between their levels is the roads' and not the days'. The vectors are
    those of the levels' covariance that are less sure by far than the rest; what no road joins
    at all is left open.
    """
    from scipy.linalg import eigh
    from scipy.sparse import coo_array

    keep = used[table.cell] & (asked > 0) & np.isfinite(levels)[table.day]
    cell, day, fuel, want = table.cell[keep], table.day[keep], table.fuel[keep], asked[keep]
    groups = joined_roads(table, used)
    present, number = np.unique(day, return_inverse=True)
    apart = np.unique(groups[present])
    if len(present) > MAX_JOINED_DAYS:
        return (groups[:, None] == apart).astype(float), np.full(len(apart), UNJOINED)
    level = np.exp(levels)[day] * want
    factor = sum_by(cell, fuel, table.cells) / np.maximum(sum_by(cell, level, table.cells), TINY)
    expected = level * factor[cell]
    free = max(len(fuel) - len(present) - len(np.unique(cell)) + len(apart), 1)
    dispersion = float(np.sum((fuel - expected) ** 2 / np.maximum(expected, TINY))) / free
    rooted = expected / np.sqrt(np.maximum(sum_by(cell, expected, table.cells), TINY))[cell]
    share = coo_array((rooted, (number, cell)), shape=(len(present), table.cells)).tocsr()
    precision, vectors = eigh(np.diag(sum_by(number, expected)) - (share @ share.T).toarray())
    variance = dispersion / np.maximum(precision, dispersion / UNJOINED)
    unsure = np.flatnonzero(variance > UNSURE * np.median(variance))[:MAX_UNSURE]
    out = np.zeros((table.days, len(unsure)))
    out[present] = vectors[:, unsure]
    return out, variance[unsure]


def shrinkage_of(table: Table, asked: Array) -> float:
    """How strongly cells' factors are drawn to one: variance of one pass over that of cells.

    Moments of the logarithms of fuel over asked, day means taken out.
    """
    sound = (asked > 0) & (table.fuel > 0) & (asked > 0.2 * np.median(asked[asked > 0]))
    if sound.sum() < 20:
        return 1.0
    cell, day = table.cell[sound], table.day[sound]
    log = np.log(table.fuel[sound] / asked[sound])
    mean = sum_by(day, log, table.days) / np.maximum(np.bincount(day, minlength=table.days), 1)
    log = log - mean[day]
    count = np.bincount(cell, minlength=table.cells)
    again = count[cell] > 1
    if again.sum() < 20:
        return 1.0
    centre = sum_by(cell, log, table.cells) / np.maximum(count, 1)
    repeated = count > 1
    within = float(np.sum((log - centre[cell])[again] ** 2) / np.sum(count[repeated] - 1))
    between = float(np.var(centre[repeated])) - within * float(np.mean(1 / count[repeated]))
    return float(np.clip(within / max(between, 0.02 * within), 0.2, 50.0))
