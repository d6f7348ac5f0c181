"""How far off its true place a vertex was drawn, told from the drawing itself.

Where a line is straight, its vertices should be in one line: what they are off it is the hand's wobble. So straights
are found as if the wobble were known, the vertices inside them then tell it, two of each straight being spent on the
straight itself; and so again until it settles. A vertex on which the line bends tells nothing.

Too small a wobble explains every vertex as a bend, too large a one swallows faint bends, and both explain themselves.
So it is sought from several starts, and of what they settle at the likeliest is taken: by the criterion that finds the
runs (squares in units of the wobble plus a charge for each bend) with what a normal error adds, 2 ln σ for each vertex
that tells, and with the assumed wobble held likely to within a factor of two. The last keeps a few vertices that happen
to lie well, or a bend or two that could be wobble, from saying much.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from fencegis.line.drawn_chain import loop_chain, misfit, open_chain
from fencegis.line.straights import bend_charge
from fencegis.records.notes import Note

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import numpy.typing as npt

    from fencegis.records.site import DrawnLine
    from fencegis.records.spec import Spec

    Floats = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]

LEAST_M, MOST_M = 0.05, 10.0  # a hand wobbles more, and a drawing that is further off is none (ours)
LIKELY = math.log(2.0)  # one standard deviation of the assumed wobble's logarithm (ours)
STARTS = (3.0, 1.0, 0.3)  # times the assumed wobble; the largest first, as too small a one loses its vertices
SAME = 0.02  # two wobbles nearer than this share are one
ROUNDS = 8
FEWEST = 2  # vertices must tell; one may lie anywhere
FEWEST_BOWED = 5  # vertices show a bow
NO_BOW = (math.inf, 0.0, 0.0, 0.0)
SURELY = 4.0  # standard errors
ENOUGH = 20  # of one line, to tell its own; fewer tell together with other lines
MOST_VERTICES = 240  # of one line are asked: they tell to 5 %
STRETCHES = 4  # that those are taken from
SITE_VERTICES, LEAST_VERTICES = 2000, 100  # of all lines together, and of each if they are many
ON_A_PEG_M = 0.020  # a vertex so near was put on the peg, and tells nothing
PEG_FIRMNESS = 30.0  # such a vertex is held this much firmer than others


@dataclass(frozen=True)
class DrawingError:
    """`sigma_m` is one standard deviation of a vertex, in east and in north, each; the assumed one unless `told`.

    `relative` is the standard error of `sigma_m` as a share of it; `vertices` is how many told: those inside straights,
    less two a straight. Where neighbours are off `together`, the wobble is the least that the error can be: a hand that
    strays slowly looks as if it meant to bend.
    """

    sigma_m: float
    relative: float
    vertices: int
    together: bool
    told: bool


@dataclass(frozen=True, eq=False)
class _Piece:
    points: Floats
    closed: bool
    on_peg: Flags


@dataclass(frozen=True, eq=False)
class _Found:
    """Straights with more than two vertices, a row each; `charges` is for all bends of the piece.

    `vertices` is how many tell, `charge` what a bow costs; `straight` and `bow` have what such an explanation leaves:
    squares, products of neighbours, what these are for independent errors of 1 m, and how many.
    """

    vertices: Floats
    charge: Floats
    straight: Floats  # (r, 4)
    bow: Floats
    charges: float


@dataclass(frozen=True)
class _Trial:
    """What straights found at one wobble say of it, and how likely that is (the less the likelier)."""

    error: DrawingError
    squares_m2: float
    score: float


def drawing_error_m(
    vertices: Floats, *, closed: bool, assumed_m: float, pegs: Floats | None = None, most: int = MOST_VERTICES
) -> DrawingError:
    """Return how far off the vertices of one line were drawn.

    `vertices` (n, 2) as drawn, a loop's first not repeated; `assumed_m` one standard deviation in east and in north,
    each, for a drawing that cannot tell; `pegs` (p, 2), vertices on which tell nothing. Of a line of more than `most`
    vertices four stretches are asked.
    """
    return _settled(list(_pieces(vertices, closed, pegs, most)), assumed_m)


def told_by_drawing(
    drawn: Sequence[DrawnLine], spec: Spec, *, pegs: Floats | None = None
) -> tuple[tuple[DrawnLine, ...], list[Note]]:
    """Return the lines with `sigma_m` as each tells of itself, and notes that say so.

    Lines with few vertices inside runs tell together. Where `position_error_m` is given, and of a survey, the lines
    come back as they are. Where neighbours are off together, as walked marks always are, what is told is the least that
    the error can be, and a larger assumed one stands (with a drift of 1 m alike over 100 m, runs found by what was told
    had three to six corners too many). All this is for finding runs: distances to be kept go by the assumed error.
    """
    boundary = spec.boundary
    if boundary.position_error_m is not None or boundary.drawn_from == "survey":
        return tuple(drawn), []
    assumed_m = boundary.vertex_sigma_m
    most = max(LEAST_VERTICES, min(MOST_VERTICES, SITE_VERTICES // max(len(drawn), 1)))
    pieces = [list(_pieces(line.vertices, line.closed, pegs, most)) for line in drawn]
    errors = [_settled(of_line, assumed_m) for of_line in pieces]
    few = [place for place, error in enumerate(errors) if error.vertices < ENOUGH]
    if len(few) > 1:
        together = _settled([piece for place in few for piece in pieces[place]], assumed_m)
        errors = [together if place in few else error for place, error in enumerate(errors)]
    walked = boundary.drawn_from == "walked"
    errors = [replace(error, together=walked or error.together) if error.told else error for error in errors]
    lines = [replace(line, sigma_m=_taken_m(error, assumed_m)) for line, error in zip(drawn, errors, strict=True)]
    return tuple(lines), _notes(drawn, errors, assumed_m)


def _taken_m(error: DrawingError, assumed_m: float) -> float:
    return max(error.sigma_m, assumed_m) if error.together else error.sigma_m


def _pieces(points: Floats, closed: bool, pegs: Floats | None, most: int) -> Iterable[_Piece]:
    """Yield the line, or stretches of a long one."""
    on_peg = np.zeros(len(points), dtype=bool)
    for peg in () if pegs is None else pegs:
        on_peg |= np.hypot(*(points - peg).T) <= ON_A_PEG_M
    if len(points) <= most:
        yield _Piece(points, closed, on_peg)
        return
    size = most // STRETCHES
    for begin in np.linspace(0, len(points) - size, STRETCHES).astype(int):
        yield _Piece(points[begin : begin + size], False, on_peg[begin : begin + size])


def _settled(pieces: Sequence[_Piece], assumed_m: float) -> DrawingError:
    """Return the likeliest of the wobbles at which the straights settle."""
    best: _Trial | None = None
    tried: list[float] = []
    for start in STARTS:
        sigma = start * assumed_m
        for _ in range(ROUNDS):
            sigma = min(max(sigma, LEAST_M), MOST_M)
            if any(abs(math.log(sigma / other)) < SAME for other in tried):
                break
            tried.append(sigma)
            trial = _trial(pieces, sigma, assumed_m)
            worse = best is not None and trial.score > best.score
            best = best if worse else trial
            if worse and start < 1.0 and trial.error.sigma_m > sigma:
                break  # on the way back to what the larger starts settled at
            sigma = trial.error.sigma_m
    return _within_bounds(best, assumed_m)


def _within_bounds(best: _Trial | None, assumed_m: float) -> DrawingError:
    """Return the assumed wobble where too few vertices tell, or where no hand wobbles so little or so much."""
    count = best.error.vertices if best else 0
    if best and count >= FEWEST and LEAST_M <= math.sqrt(best.squares_m2 / count) <= MOST_M:
        return best.error
    return DrawingError(assumed_m, LIKELY, count, together=False, told=False)


def _trial(pieces: Sequence[_Piece], sigma_m: float, assumed_m: float) -> _Trial:
    """Return what the straights found at this wobble say of it; those of a curve bow, where that explains them."""
    of_each = [_found(piece, sigma_m) for piece in pieces]
    vertices, charge, straight, bow = (
        np.concatenate([getattr(found, name) for found in of_each])
        for name in ("vertices", "charge", "straight", "bow")
    )
    bowed = straight[:, 0] > bow[:, 0] * np.exp(charge / (vertices + 2.0))
    for _ in range(ROUNDS):
        squares, products, expected, pairs = np.where(bowed[:, None], bow, straight).sum(axis=0)
        telling = int(vertices.sum() - bowed.sum())
        told_m = _likeliest_m(squares, telling, assumed_m)
        more = bowed | (straight[:, 0] - bow[:, 0] > charge * told_m**2)
        if (more == bowed).all():
            break
        bowed = more
    away, weighed = math.log(told_m / assumed_m), squares / told_m**2
    charges = sum(found.charges for found in of_each) + float(charge[bowed].sum())
    score = weighed + 2.0 * telling * away + (away / LIKELY) ** 2 + charges
    together = bool(pairs >= ENOUGH and products / told_m**2 - expected > SURELY * math.sqrt(pairs))
    relative = 1.0 / math.sqrt(2.0 * weighed + LIKELY**-2)
    return _Trial(DrawingError(told_m, relative, telling, together=together, told=True), squares, score)


def _found(piece: _Piece, sigma_m: float) -> _Found:
    """Return the straights of a piece that are found at this wobble."""
    relative = np.where(piece.on_peg, 1.0 / PEG_FIRMNESS, 1.0)
    clicked = piece.on_peg | np.roll(piece.on_peg, 1)  # beside a peg the line bends on the peg
    chain = (loop_chain if piece.closed else open_chain)(piece.points, sigma_m * relative, clicked=clicked)
    vertices, straights, bows = [], [], []
    for straight in chain.straights:
        own = chain.order[straight.first : straight.last + 1]
        pegs = int(piece.on_peg[own].sum())
        if len(own) > max(2, pegs):
            vertices.append(len(own) - max(2, pegs))
            if pegs:
                straights.append((misfit(piece.points[own], relative[own]), 0.0, 0.0, 0.0))
            else:
                straights.append(_left_over(piece.points[own], 1))
            bows.append(NO_BOW if pegs or len(own) < FEWEST_BOWED else _left_over(piece.points[own], 2))
    charge = bend_charge(len(piece.points))
    return _Found(
        np.array(vertices, dtype=float),
        np.full(len(vertices), charge),
        np.array(straights, dtype=float).reshape(-1, 4),
        np.array(bows, dtype=float).reshape(-1, 4),
        charge * len(chain.straights),
    )


def _left_over(points: Floats, degree: int) -> tuple[float, float, float, float]:
    """Return what a straight (degree 1) or a bow (2) through the points (n, 2) leaves, in the order of `_Found`."""
    away = points - points.mean(axis=0)
    ahead = np.linalg.svd(away, full_matrices=False)[2][0]
    along, across = away @ ahead, away @ np.array([-ahead[1], ahead[0]])
    shape = np.linalg.qr(np.vander(along / np.abs(along).max(), degree + 1))[0]
    left = across - shape @ (shape.T @ across)
    expected = -float((shape[1:] * shape[:-1]).sum())
    return float(left @ left), float(left[1:] @ left[:-1]), expected, len(points) - 1.0


def _likeliest_m(squares_m2: float, telling: int, assumed_m: float) -> float:
    """Return the wobble for which squares / σ² + 2 n ln σ + (ln(σ / assumed) / LIKELY)² is least, within the bounds."""
    from scipy.optimize import brentq

    def slope(log_sigma: float) -> float:  # rises
        away = log_sigma - math.log(assumed_m)
        return telling - squares_m2 * math.exp(-2.0 * log_sigma) + away / LIKELY**2

    low, high = math.log(LEAST_M), math.log(MOST_M)
    if slope(low) >= 0.0:
        return LEAST_M
    return MOST_M if slope(high) <= 0.0 else math.exp(brentq(slope, low, high))


def _notes(drawn: Sequence[DrawnLine], errors: Sequence[DrawingError], assumed_m: float) -> list[Note]:
    """Return a note for each wobble told, with the lines that it is told of where not all."""
    notes = []
    for error in dict.fromkeys(errors):
        of = [line.line_id for line, own in zip(drawn, errors, strict=True) if own == error]
        where = "" if len(of) == len(drawn) else f" ({', '.join(of)})"
        doubtful = error.told and _surely_more(error, assumed_m)
        text = f"position error not given{where}: {_words(error, assumed_m)}"
        notes.append(Note("doubt" if doubtful else "default", text, of[0] if len(of) == 1 else None))
    return notes


def _surely_more(error: DrawingError, assumed_m: float) -> bool:
    return error.sigma_m * (1.0 - 2.0 * error.relative) > assumed_m


def _words(error: DrawingError, assumed_m: float) -> str:
    if not error.told:
        why = "a drawing with a vertex at each corner cannot tell it"
        if error.vertices >= FEWEST:
            why = "the vertices lie as no hand sets them, too well or too badly in line"
        return f"{why}; {assumed_m:.1f} m assumed"
    told = (
        f"the drawing itself wobbles by {error.sigma_m:.2f} m ± {error.sigma_m * error.relative:.2f} (one standard"
        f" deviation in east and in north, each; from {error.vertices} vertices inside runs)"
    )
    clearances = f"clearances and waypoints go by {assumed_m:.1f} m"
    if _surely_more(error, assumed_m):
        return f"{told}; used to find runs. But {clearances}: give position_error_m"
    if error.together and error.sigma_m < assumed_m:
        return f"{told}, the least it can be, as neighbours are off together; {assumed_m:.1f} m assumed"
    return f"{told}; used to find runs, while {clearances}"
