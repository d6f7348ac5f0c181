"""Convex programmes with a separable quadratic, and the proof of how near to the best an answer is.

Model. Least ½ Σ square · x² + Σ cost · x, subject to `below` x ≤ `most` and `equal` x = `value`; some unknowns may
not be negative. Without squares it is a linear programme and goes to HiGHS's dual simplex, whose answers are corners of
what is allowed (few unknowns differ from nought); with squares it goes to Clarabel's interior-point method. Neither
draws lots nor looks at the clock: the same numbers in give the same numbers out.

Proof. Whatever the solver says of itself, its prices (one for each limit, those of `below` not negative) give a bound
by weak duality: no allowed x costs less than the Lagrangian's least value (Boyd and Vandenberghe, Convex Optimization,
section 5.2; from memory). What the prices leave unbalanced is charged as if the best answer were `FAR` away.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]

FAR = 100.0  # in the unknowns' own units: metres and percent of grade; no top line is so far off
FINE = 1e-9  # the solver's own tolerance
# one that stopped short of its own tolerance still has prices, and the bound from them says how far it got
ANSWERED = ("Solved", "AlmostSolved", "InsufficientProgress")


@dataclass(frozen=True, eq=False)
class Programme:
    """Least ½ Σ `square` x² + Σ `cost` x: `below` x ≤ `most`, `equal` x = `value`, x ≥ 0 where `not_negative`.

    `square`, `cost` and `not_negative` are (n,); `below` and `equal` sparse with n columns.
    """

    square: Floats
    cost: Floats
    not_negative: Flags
    below: Any
    most: Floats
    equal: Any
    value: Floats


@dataclass(frozen=True, eq=False)
class Answer:
    """The unknowns (n,), their cost, and the bound: no allowed answer costs less than that.

    `price` has a number for each row of `below`: what a little more room there would save, not negative.
    """

    unknown: Floats
    cost: float
    bound: float
    price: Floats


def solve(programme: Programme) -> Answer:
    """Return the cheapest answer and its bound.

    Raises ArithmeticError when the solver finds none: nothing is allowed, or the numbers are beyond it.
    """
    unknown, price_below, price_equal = _by_cone(programme) if programme.square.any() else _by_simplex(programme)
    price = np.maximum(price_below, 0.0)
    cost = float(0.5 * programme.square @ unknown**2 + programme.cost @ unknown)
    return Answer(unknown, cost, _bound(programme, unknown, price, price_equal), price)


def _by_simplex(programme: Programme) -> tuple[Floats, Floats, Floats]:
    from scipy.optimize import linprog

    limits = np.column_stack([np.where(programme.not_negative, 0.0, -np.inf), np.full(len(programme.cost), np.inf)])
    rows = {"A_ub": programme.below, "b_ub": programme.most, "A_eq": programme.equal, "b_eq": programme.value}
    for name, row in (("A_ub", "b_ub"), ("A_eq", "b_eq")):
        if rows[name].shape[0] == 0:
            del rows[name], rows[row]
    found = linprog(programme.cost, **rows, bounds=limits, method="highs-ds")
    if found.x is None:
        raise ArithmeticError(f"no answer: {found.message}")
    return found.x, -found.ineqlin.marginals, -found.eqlin.marginals


def _by_cone(programme: Programme) -> tuple[Floats, Floats, Floats]:
    import clarabel
    from scipy import sparse

    size, equals = len(programme.cost), len(programme.value)
    positive = -sparse.eye_array(size, format="csr")[programme.not_negative]
    rows = sparse.vstack([programme.equal, programme.below, positive], format="csc")
    right = np.concatenate([programme.value, programme.most, np.zeros(positive.shape[0])])
    settings = clarabel.DefaultSettings()
    settings.verbose = False
    settings.max_threads = 1  # sums in one order, so the same bits
    settings.iterative_refinement_enable = False  # half the time, and the bound says how good the answer is
    settings.tol_gap_abs = settings.tol_gap_rel = settings.tol_feas = FINE
    cones = [clarabel.ZeroConeT(equals), clarabel.NonnegativeConeT(len(right) - equals)]
    squares = sparse.csc_matrix(sparse.diags_array(programme.square))
    solver = clarabel.DefaultSolver(squares, programme.cost, sparse.csc_matrix(rows), right, cones, settings)
    found = solver.solve()
    if str(found.status) not in ANSWERED:
        raise ArithmeticError(f"no answer: {found.status}")
    price = np.array(found.z)
    return np.array(found.x), price[equals : equals + len(programme.most)], price[:equals]


def _bound(programme: Programme, unknown: Floats, price_below: Floats, price_equal: Floats) -> float:
    """Return the Lagrangian's least value at these prices, taking every unknown to lie within `FAR` of the answer.

    An unknown with a square has its least where its slope is nought; another's slope is charged over `FAR`, save that
    one which may not be negative can only move up from nought at a cost that is not negative.
    """
    slope = programme.cost + programme.below.T @ price_below + programme.equal.T @ price_equal
    squared = programme.square > 0.0
    least = -(slope[squared] ** 2) / (2.0 * programme.square[squared])
    free = ~squared & ~programme.not_negative
    linear = slope[free] * unknown[free] - FAR * np.abs(slope[free])
    held = ~squared & programme.not_negative
    upward = np.minimum(slope[held], 0.0) * (unknown[held] + FAR)
    fixed = price_below @ programme.most + price_equal @ programme.value
    return float(least.sum() + linear.sum() + upward.sum() - fixed)
