"""Courses made by hand: a line, its ground, its nodes."""

import numpy as np
import pytest

from fencegis.layout.post_tables import named
from fencegis.layout.posts import shared_out
from fencegis.layout.railed import railed
from fencegis.layout.strainers import fixed_posts
from fencegis.line.course import course_of
from fencegis.line.network import network
from fencegis.records.site import DrawnLine
from fencegis.records.spec import Fence, Spec


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


@pytest.fixture
def laid_out():
    def lay(course, *gates, **settings):
        """The line with its posts and their names, in post and rail or as `kind` says."""
        fence = Fence(**{"kind": "post and rail", "rail_m": (4.8,), **settings})
        fixed = fixed_posts(course, gates=gates, fence=fence, bay_m=fence.post_spacing_m, lift=np.zeros_like)
        return named([(course, fixed, shared_out(course, fixed=fixed, gates=gates, fence=fence))])[0], fence

    return lay


@pytest.fixture
def railed_line(laid_out):
    def rail(course, *gates, tells_posts=True, embed_m=0.8, **settings):
        one, fence = laid_out(course, *gates, **settings)
        depth = dict.fromkeys(one.post_id, embed_m)
        return railed([one], embed_m=depth, fence=fence, tells_posts=tells_posts)[0], fence

    return rail
