"""What a road may be where its recorded altitude drifts: the likeliest, and others about it.

Recorded altitude = road + drift. The drift is known by how far it wanders and how soon it is
forgotten, the road by how much its grade changes from place to place; both as normal processes,
so that the road given the record is normal too (linear Gaussian smoothing, any textbook). Its mean
is the record less what is likelier a drift than a road; drawn about it are roads that would have
given the same record.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from gearing.statistics.arrays import Array

# How far one recording's altitude drifts about the road's: standard deviation, and the way in which
# a drift is forgotten. Measured on open recordings of two telephones, 4 and 18 drives of one road
# each: rises over 300, 500 and 1000 m differ by 2.4 and 3.4, 3.5 and 3.9, 5.5 and 4.5 m.
DRIFT_M, DRIFT_OVER_M = 4.0, 500.0
# Standard deviation of a road's change of grade from one 250 m to the next: 0.7 to 1.1 % on two
# invented passes and the European long-haul mission.
GRADE_CHANGE, KNOT_M = 0.01, 250.0


def possible_heights(
    distance_m: Array, altitude_m: Array, deviation_m: float, count: int, seed: int
) -> Array:
    """Altitudes [m] that the road may have, shape (n, 1 + count): the likeliest, then draws.

    `distance_m` (n,) ascends from 0, `altitude_m` (n,) is as recorded, `deviation_m` by how much
    that drifts. Nothing is changed on a scale of under 250 m.
    """
    from scipy.linalg import cho_solve_banded, cholesky_banded, solve_banded

    knots = np.arange(0.0, max(distance_m[-1], 2 * KNOT_M) + KNOT_M, KNOT_M)
    recorded = np.interp(knots, distance_m, altitude_m)
    kept = np.exp(-KNOT_M / DRIFT_OVER_M)
    drift = np.zeros((3, knots.size))  # precision, its upper bands as scipy stores them
    drift[2] = 1 + kept**2
    drift[2, [0, -1]] = 1.0
    drift[1, 1:] = -kept
    drift /= deviation_m**2 * (1 - kept**2)
    road = np.zeros_like(drift)
    for first, bend in enumerate((1.0, -2.0, 1.0)):  # of second differences
        for second, other in enumerate((1.0, -2.0, 1.0)):
            if second >= first:
                end = knots.size - 2 + second
                road[2 - (second - first), second:end] += bend * other
    road /= (KNOT_M * GRADE_CHANGE) ** 2
    factor = cholesky_banded(drift + road)
    pulls = drift[2] * recorded
    pulls[:-1] += drift[1, 1:] * recorded[1:]
    pulls[1:] += drift[1, 1:] * recorded[:-1]
    mean = cho_solve_banded((factor, False), pulls)
    rng = np.random.default_rng([seed, 3])
    drawn = solve_banded((0, 2), factor, rng.standard_normal((knots.size, count)))
    change = np.column_stack([mean, mean[:, None] + drawn]) - recorded[:, None]
    between = [np.interp(distance_m, knots, one) for one in change.T]
    heights: Array = altitude_m[:, None] + np.stack(between, axis=1)
    return heights
