"""A bearing as deeds print it → degrees clockwise from the deed's north."""

from __future__ import annotations

import re

from fencegis.inputs.findings import words

_DECIMAL = re.compile(r"(?P<d>\d{1,3}(?:\.\d+)?)\s*[°º˚]?", re.ASCII)
_PARTS = re.compile(
    r"(?P<d>\d{1,3})\s*(?:[°º˚]\s*|[\s:-]\s*)"
    r"(?P<m>\d{1,2}(?:\.\d+)?)\s*(?:['′’´`]\s*|[\s:-]\s*|$)"
    r"(?:(?P<s>\d{1,2}(?:\.\d+)?)\s*(?:\"|″|”|''|’’|′′)?)?",
    re.ASCII,
)
_QUADRANT = re.compile(r"(N|S)(?:ORTH|OUTH)?\.?\s*(\d.*?)\s*(E|W)(?:AST|EST)?\.?")
_CARDINAL = re.compile(r"(?:DUE\s+)?(NORTH|EAST|SOUTH|WEST|N|E|S|W)\.?")
_OF_CARDINAL = {"N": 0.0, "E": 90.0, "S": 180.0, "W": 270.0}
FORMS = "write it as 94.2083, 94 12 30, 94°12'30\" or N 85 47 30 E."


def bearing_deg(text: str) -> float:
    """Return the bearing in degrees, 0 up to but not 360.

    `text` is decimal degrees, degrees with minutes and maybe seconds (`94 12 30`, `94°12'30"`, `94-12-30`), a quadrant
    bearing (`N 85 47 30 E`, `South 5° West`) or a cardinal point (`due north`). Raises ValueError, in words for the
    reader, for anything else and for a bearing out of range.
    """
    plain = " ".join(text.upper().split())
    if cardinal := _CARDINAL.fullmatch(plain):
        return _OF_CARDINAL[cardinal[1][0]]
    if quadrant := _QUADRANT.fullmatch(plain):
        angle = _angle(quadrant[2], text)
        if angle > 90.0:
            raise ValueError(f"bearing “{words(text)}” is out of range: in a quadrant it is from 0 to 90 degrees.")
        from_north = angle if quadrant[1] == "N" else 180.0 - angle
        return (from_north if quadrant[3] == "E" else -from_north) % 360.0
    angle = _angle(plain, text)
    if plain.startswith("-") or angle > 360.0:
        raise ValueError(f"bearing “{words(text)}” is out of range: it is from 0 to 360 degrees.")
    return angle % 360.0


def may_be_packed(text: str) -> bool:
    """Say whether a decimal bearing could be degrees.minutes-seconds, as some calculators write 94°12'30": 94.1230."""
    packed = re.fullmatch(r"\s*\d{1,3}\.(\d\d)(\d\d)\s*", text, re.ASCII)
    return packed is not None and int(packed[1]) < 60 and int(packed[2]) < 60


def _angle(plain: str, text: str) -> float:
    """Return degrees of an angle, its sign left out."""
    plain = plain.removeprefix("-").lstrip()
    if decimal := _DECIMAL.fullmatch(plain):
        return float(decimal["d"])
    parts = _PARTS.fullmatch(plain)
    if parts is None or (parts["s"] is not None and "." in parts["m"]):
        raise ValueError(f"bearing “{words(text)}” is not a bearing.")
    minutes, seconds = float(parts["m"]), float(parts["s"] or 0.0)
    if minutes >= 60.0 or seconds >= 60.0:
        raise ValueError(f"bearing “{words(text)}” is out of range: minutes and seconds are less than 60.")
    return float(parts["d"]) + minutes / 60.0 + seconds / 3600.0
