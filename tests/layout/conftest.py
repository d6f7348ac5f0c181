"""Courses made by hand: a line, its ground, its nodes."""

import numpy as np
import pytest

from fencegis.line.course import course_of
from fencegis.line.network import network
from fencegis.records.site import DrawnLine
from fencegis.records.spec import Spec


@pytest.fixture
def course():
    def make(*corners, kind="wire", closed=False, profile=None, nodes=None, owned=()):
        """`profile` is (chainages, heights) of the ground, straight in between and without noise."""
        drawn = DrawnLine("A", "", "feature 1", kind, None, closed, np.array(corners, dtype=float), 0.01)
        (planned,) = network([drawn], pegs=np.zeros((0, 2)), spec=Spec()).lines
        ground = None
        if profile is not None:

            def ground(points):
                from fencegis.line.chainage import nearest

                return np.interp(nearest(planned.line, points)[0], *profile)

        return course_of(
            planned, nodes=nodes or {}, owned=frozenset(owned), ground=ground, cell_m=1.0, vertical_error_m=0.05
        )

    return make
