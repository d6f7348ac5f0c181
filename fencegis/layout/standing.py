"""The posts of one line that must stand where they stand, as they are put up and as they are left."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    import numpy.typing as npt

    Floats = npt.NDArray[np.float64]
    Stretch = tuple[float, float]


class Way(Protocol):
    """A way through the fence, from post centre to post centre in chainage: a gate's opening, or over a crossing."""

    @property
    def from_m(self) -> float:
        """Where it begins."""
        ...

    @property
    def to_m(self) -> float:
        """Where it ends."""
        ...


@dataclass(frozen=True)
class Opening:
    """A way with no gate in it, as over a crossing between its own end assemblies."""

    from_m: float
    to_m: float


REASONS = ("end", "junction", "corner", "peg", "gate", "crossing", "grade", "length", "turning")
ONE_POST_M = 0.01
LEAST_BAY_M = 0.6  # a gate post closer than this to a corner, an end or a node becomes that post (common practice)
BESIDE = 0.5  # of the greatest bay: a change of grade, or a key post, this near to a strainer is taken by it


@dataclass(frozen=True, eq=False)
class Strain:
    """From one strainer to the next: chainages, length along the ground, and the sizes of all turns between summed."""

    from_m: float
    to_m: float
    length_m: float
    turned_deg: float


@dataclass(frozen=True, eq=False)
class Stop:
    """A strainer put in between two that have to stand, and what speaks for its place.

    `even_m` is the chainage that equal strains would give it, `off_m` how far beyond that it stands along the ground;
    `on` is "crest", "bend", "arc's end" or "dip" where a post stands anyway; `banned` and `even_banned` say what
    forbids its own place and the even one, empty for nothing.
    """

    chainage_m: float
    even_m: float
    off_m: float
    on: str
    banned: str
    even_banned: str


@dataclass(frozen=True, eq=False)
class Chain:
    """The strainers put in between two that have to stand.

    `by_length` is the fewest strains that the greatest length alone asks for; `dearer` is what as many equal strains
    would cost more than these, in strainers, `even_turned_deg` the most that one of those would turn.
    """

    strain: Strain
    by_length: int
    dearer: float
    even_turned_deg: float
    stops: tuple[Stop, ...]


@dataclass(frozen=True, eq=False)
class Fixed:
    """The fixed posts of one line in walking order.

    `chainage_m` (n,); `reasons` says for each why it is a strainer, empty for a key post; `joint` is the place in
    `course.grades` of the change of grade that it takes, −1 for none; `second` (n,) which are second posts of a corner.
    `strains` are those of a wire line, `chains` says why strainers for length and turning stand where they do.
    """

    chainage_m: Floats
    reasons: tuple[tuple[str, ...], ...]
    joint: npt.NDArray[np.int_]
    second: npt.NDArray[np.bool_]
    strains: tuple[Strain, ...] = ()
    chains: tuple[Chain, ...] = ()

    @property
    def paired(self) -> npt.NDArray[np.bool_]:
        """Which posts (n,) are one of two at a corner."""
        return np.asarray(self.second | np.append(self.second[1:], False))


@dataclass
class Standing:
    """Posts as they are put up: chainage → why it strains, the change of grade it takes; and corners' second posts."""

    why: dict[float, set[str]] = field(default_factory=dict)
    joint: dict[float, int] = field(default_factory=dict)
    seconds: set[float] = field(default_factory=set)

    def nearest(self, chainage: float, within: float) -> float | None:
        """Return the chainage of the post nearest to here, None when none is that near."""
        close = [post for post in self.why if abs(post - chainage) <= within]
        return min(close, key=lambda post: abs(post - chainage), default=None)

    def strainers(self) -> list[float]:
        """Return the chainages of those that strain, rising."""
        return sorted(post for post, reasons in self.why.items() if reasons)

    def strainer(self, chainage: float, reason: str, *, within: float) -> None:
        """Put a strainer here, or let a post so near be it."""
        post = self.nearest(chainage, within)
        self.why.setdefault(chainage if post is None else post, set()).add(reason)

    def key(self, chainage: float, *, within: float) -> None:
        """Put a key post here unless a post stands so near."""
        if self.nearest(chainage, within) is None:
            self.why[chainage] = set()

    def second(self, chainage: float) -> None:
        """Put a corner's second post here."""
        self.why[chainage] = {"corner"}
        self.seconds.add(chainage)

    def take_break(self, chainage: float, joint: int, *, strains: bool, within: float) -> None:
        """Let a post so near, or a new one, take a change of grade."""
        post = self.nearest(chainage, within)
        post = chainage if post is None else post
        self.why.setdefault(post, set())
        self.joint.setdefault(post, joint)
        if strains:
            self.why[post].add("grade")

    def between(self, chainage: float, reasons: Iterable[str], *, within: float) -> float:
        """Put a strainer here and return where it stands: a key post on the place becomes it, one beside gives way."""
        key = self.nearest(chainage, within)
        if key is not None and not self.why[key]:
            if abs(key - chainage) < ONE_POST_M:
                chainage = key
            else:
                del self.why[key]
                if key in self.joint:
                    self.joint[chainage] = self.joint.pop(key)
        self.why.setdefault(chainage, set()).update(reasons)
        return chainage

    def in_walking_order(self) -> Fixed:
        """Return the posts as they stand."""
        posts = sorted(self.why)
        reasons = tuple(tuple(reason for reason in REASONS if reason in self.why[post]) for post in posts)
        joint = np.array([self.joint.get(post, -1) for post in posts], dtype=int)
        return Fixed(np.array(posts), reasons, joint, np.array([post in self.seconds for post in posts], dtype=bool))


def within(chainage_m: Floats, stretches: Sequence[Stretch]) -> npt.NDArray[np.bool_]:
    """Return which chainages lie in one of the stretches, ends included."""
    inside = np.zeros(len(chainage_m), dtype=bool)
    for from_m, to_m in stretches:
        inside |= (chainage_m >= from_m) & (chainage_m <= to_m)
    return inside


def banned_by(chainage_m: Floats, forbidden: Mapping[str, Sequence[Stretch]]) -> npt.NDArray[np.object_]:
    """Return for each chainage the first kind of stretch that forbids a strainer there, an empty text for none."""
    kind = np.full(len(chainage_m), "", dtype=object)
    for name, stretches in forbidden.items():
        kind[within(chainage_m, stretches) & (kind == "")] = name
    return kind


def is_opening(from_m: float, to_m: float, ways: Sequence[Way]) -> bool:
    """Return whether the fence opens between two posts: for a gate, or over a crossing."""
    return any(abs(way.from_m - from_m) < ONE_POST_M and abs(way.to_m - to_m) < ONE_POST_M for way in ways)
