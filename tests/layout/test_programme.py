"""Programmes worked out by hand, and what a bound may and may not say."""

import numpy as np
import pytest
from scipy import sparse

from fencegis.layout.programme import FAR, Programme, _bound, solve


def programme(*, square, cost, below, most, equal=None, value=(), not_negative=None):
    size = len(cost)
    return Programme(
        square=np.array(square, dtype=float),
        cost=np.array(cost, dtype=float),
        not_negative=np.zeros(size, dtype=bool) if not_negative is None else np.array(not_negative),
        below=sparse.csr_array(np.array(below, dtype=float).reshape(-1, size)),
        most=np.array(most, dtype=float),
        equal=sparse.csr_array(np.array([] if equal is None else equal, dtype=float).reshape(-1, size)),
        value=np.array(value, dtype=float),
    )


def test_a_linear_programme():
    """Least −x − 2y with x + y ≤ 4, y ≤ 3, both not negative: x 1, y 3; a metre more room in each row saves 1."""
    answer = solve(
        programme(square=[0, 0], cost=[-1, -2], below=[[1, 1], [0, 1]], most=[4, 3], not_negative=[True, True])
    )
    np.testing.assert_allclose(answer.unknown, [1.0, 3.0])
    assert (answer.cost, answer.bound) == (pytest.approx(-7.0), pytest.approx(-7.0))
    np.testing.assert_allclose(answer.price, [1.0, 1.0])


def test_a_quadratic_programme():
    """Nearest to nought with x + y = 2 and x ≤ 0.5: x 0.5, y 1.5."""
    answer = solve(programme(square=[1, 1], cost=[0, 0], below=[[1, 0]], most=[0.5], equal=[[1, 1]], value=[2]))
    np.testing.assert_allclose(answer.unknown, [0.5, 1.5], atol=1e-6)
    assert answer.cost == pytest.approx(1.25)
    assert answer.bound == pytest.approx(1.25)
    assert answer.price[0] == pytest.approx(1.0, abs=1e-5)  # y − x


def test_an_unknown_that_may_not_be_negative_beside_squares():
    """Least ½ x² + y with x + y = 3: x 1, y 2; were y free to be negative it would cost without end less."""
    given = programme(
        square=[1, 0], cost=[0, 1], below=[], most=[], equal=[[1, 1]], value=[3], not_negative=[False, True]
    )
    answer = solve(given)
    np.testing.assert_allclose(answer.unknown, [1.0, 2.0], atol=1e-6)
    assert answer.bound == pytest.approx(2.5)


@pytest.mark.parametrize("square", [0.0, 1.0])
def test_nothing_is_allowed(square):
    with pytest.raises(ArithmeticError, match="no answer"):
        solve(programme(square=[square], cost=[1.0], below=[[1.0], [-1.0]], most=[0.0, -1.0]))


@pytest.mark.parametrize("square", [0.0, 1.0])
@pytest.mark.parametrize("seed", range(4))
def test_no_prices_whatever_put_the_bound_over_an_allowed_answer(seed, square):
    """Weak duality: wrong prices only weaken the bound."""
    chance = np.random.default_rng(seed)
    below, allowed = chance.normal(size=(8, 5)), chance.normal(size=5)
    equal = chance.normal(size=(2, 5))
    given = programme(
        square=[square] * 3 + [0.0] * 2, cost=chance.normal(size=5), below=below,
        most=below @ allowed + chance.uniform(0.0, 1.0, 8), equal=equal, value=equal @ allowed,
    )  # fmt: skip
    cost = 0.5 * given.square @ allowed**2 + given.cost @ allowed
    for _ in range(20):
        elsewhere = allowed + chance.uniform(-0.5 * FAR, 0.5 * FAR, 5)
        assert _bound(given, elsewhere, chance.uniform(0.0, 3.0, 8), chance.normal(size=2)) <= cost
