"""The corners' standard errors against the inverse of the whole normal matrix."""

import numpy as np
import pytest

from fencegis.line.corner_fit import _covariance, _Ties, fit_corners
from fencegis.line.straights import Straight


@pytest.mark.parametrize("closed", [False, True])
def test_corner_covariances_are_blocks_of_the_whole_inverse(closed):
    rng = np.random.default_rng(5)
    angle = np.linspace(0.0, 2.0 * np.pi, 13)[: 13 if closed else 12]
    vertices = 100.0 * np.column_stack([np.sin(angle), np.cos(angle)]) + rng.normal(0, 1, (len(angle), 2))
    if closed:
        vertices[-1] = vertices[0]
    chain = [Straight(first, min(first + 2, len(vertices) - 1)) for first in range(0, len(vertices) - 1, 2)]
    sigma, untraced = rng.uniform(0.5, 2.0, len(vertices)), np.zeros(len(vertices), dtype=bool)
    fit = fit_corners(vertices, sigma_m=sigma, chain=chain, closed=closed, traced=untraced)
    jacobian, _ = _Ties(vertices, sigma, chain, closed, untraced).linearised(fit.corners)
    whole = np.linalg.inv((jacobian.T @ jacobian).toarray())
    blocks = [whole[2 * corner : 2 * corner + 2, 2 * corner : 2 * corner + 2] for corner in range(len(fit.corners))]
    assert _covariance(jacobian, closed=closed) == pytest.approx(np.array(blocks), rel=1e-9, abs=1e-12)
    assert fit.covariance == pytest.approx(np.array(blocks), rel=1e-9, abs=1e-12)
