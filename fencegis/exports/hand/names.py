"""Names short enough for a unit: A-Z and 0-9, all told apart whole, and a unit that sorts by name walks the line.

Every name begins with a part of fixed width that rises along the way (line, then number; capitals rank after digits,
as in ASCII). Two names therefore part inside it, and in the right order, whatever follows. The part is the plain one,
in tens, as long as that fits; else numbers count in 36 digits, at last one count for the whole plan.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from fencegis.exports.file_text import code
from fencegis.exports.key_points import line_codes

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from fencegis.exports.key_points import Place

DIGITS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def short_names(places: Sequence[Place], *, length: int | None) -> list[str]:
    """Return a name for each place, in the places' order (walking order), of at most `length` letters and digits.

    None is no limit: the names as they are. Names rise as the places do and are told apart whole. Where there is room
    the kind follows in words. Raises ValueError when `length` cannot tell so many apart.
    """
    if length is None:
        return [place.name for place in places]
    if all(len(place.name) <= length for place in places):
        return [_worded(place, length) for place in places]
    plain = [place.name[:-1] for place in places]
    if all(len(name) <= length for name in plain):
        return plain
    return _counted(places, length)


def piece_names(counts: Mapping[str, int], *, letter: str, word: str, length: int | None) -> dict[str, list[str]]:
    """Return names for the pieces that each line is cut into: by line in the given order, so many as `counts` says.

    A line's code, `word`, and the piece's number where there are several; `letter` for the word where that is too
    long, and one count for all pieces where that is too long too.
    """
    codes = line_codes(counts)
    width = len(str(max(counts.values(), default=1)))
    for middle in (word, letter):
        names = {
            line: [f"{codes[line]}{middle}{'' if count == 1 else f'{number:0{width}d}'}" for number in _upto(count)]
            for line, count in counts.items()
        }
        if length is None or all(len(name) <= length for line in names.values() for name in line):
            return names
    numbers = iter(range(1, sum(counts.values()) + 1))
    width = (length or 0) - len(letter)
    return {
        line: [letter + _digits(number, width) for _, number in zip(range(count), numbers, strict=False)]
        for line, count in counts.items()
    }


def _worded(place: Place, length: int) -> str:
    """Return the name with as much of what the place is as goes in whole; its one letter where no word does."""
    number = place.name[:-1]
    for words in _words(place):
        name = number + re.sub("[^A-Z0-9]", "", code(words))
        if len(number) < len(name) <= length:
            return name
    return place.name


def _words(place: Place) -> Iterable[str]:
    yield place.short
    first, last = place.short.partition(" ")[0], place.short.rpartition(" ")[2]
    if place.kind in {"hazard", "crossing"} and last in {"begins", "ends"}:
        yield first + last
    yield place.kind


def _counted(places: Sequence[Place], length: int) -> list[str]:
    """Return names of 36 digits: the line's and the number on it where both fit, else one count for all."""
    lines = list(dict.fromkeys(place.line_id for place in places))
    counts = dict.fromkeys(lines, 0)
    numbers = []
    for place in places:
        counts[place.line_id] += 1
        numbers.append(counts[place.line_id])
    lines_wide, numbers_wide = _width(len(lines)), _width(max(numbers))
    if lines_wide + numbers_wide <= length:
        rank = {line_id: _digits(number, lines_wide) for number, line_id in enumerate(lines, start=1)}
        return [
            rank[place.line_id] + _digits(number, numbers_wide) for place, number in zip(places, numbers, strict=True)
        ]
    return [_digits(number, length) for number in _upto(len(places))]


def _upto(count: int) -> range:
    return range(1, count + 1)


def _width(number: int) -> int:
    """Return how many of the 36 digits a number takes."""
    width = 1
    while 36**width <= number:
        width += 1
    return width


def _digits(number: int, width: int) -> str:
    """Return a number in 36 digits, with noughts before it."""
    if number >= 36**width:
        raise ValueError(f"{width} letters and digits do not tell so many points apart")
    text = ""
    for _ in range(width):
        number, digit = divmod(number, 36)
        text = DIGITS[digit] + text
    return text
