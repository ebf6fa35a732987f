"""Stretches of a day as people write them: 9:00–13:00, 14:00–18:00. Reading and writing; nothing is looked up."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import time
from itertools import pairwise

Stretch = tuple[time, time]
"""From and to, within one day."""

LIKE = "9:00–13:00, 14:00–18:00"
MOST = 6  # stretches of one day; more is a slip of the finger
_PARTED = re.compile(r"[,;&/\n]|\band\b", re.IGNORECASE)
_TO = re.compile(r"\s*(?:[-‐‑‒–—−]+|\bto\b|\buntil\b|\btill\b)\s*", re.IGNORECASE)
_CLOCK = re.compile(r"(\d{1,2})(?:[:.h](\d{2}))?h?\s*(am|pm)?", re.IGNORECASE)


class WrongStretch(ValueError):
    """What is wrong with typed hours, as a sentence without the name of the day."""


def read_stretches(text: str) -> list[Stretch]:
    """The stretches that a text names, in its order; none for an empty one. Raises WrongStretch."""
    found = [_stretch(part.strip()) for part in _PARTED.split(text) if part.strip()]
    if len(found) > MOST:
        raise WrongStretch(f"at most {MOST} stretches a day, like {LIKE}.")
    return found


def in_order(stretches: Sequence[Stretch]) -> list[Stretch]:
    """Stretches of one day, the first first. Raises WrongStretch where one ends before it begins or two overlap."""
    for begins, ends in stretches:
        if ends <= begins:
            raise WrongStretch(f"{clock_of(begins)}–{clock_of(ends)} ends before it begins; hours go like {LIKE}.")
    rows = sorted(stretches)
    for one, other in pairwise(rows):
        if other[0] < one[1]:
            raise WrongStretch(f"{said([one])} and {said([other])} overlap; let one end before the next begins.")
    return rows


def said(stretches: Sequence[Stretch]) -> str:
    """Stretches as they are written and read again: 9:00–13:00, 14:00–18:00; empty for none."""
    return ", ".join(f"{clock_of(begins)}–{clock_of(ends)}" for begins, ends in stretches)


def clock_of(at: time) -> str:
    """9:00, without a nought before it."""
    return f"{at.hour}:{at.minute:02d}"


def _stretch(text: str) -> Stretch:
    ends = _TO.split(text)
    if len(ends) != 2:
        raise WrongStretch(f"“{text[:40]}” is no stretch of the day; write from and to, like {LIKE}.")
    return _clock(ends[0], text), _clock(ends[1], text)


def _clock(text: str, whole: str) -> time:
    met = _CLOCK.fullmatch(text.strip())
    if met is None:
        raise WrongStretch(f"“{whole[:40]}” is no stretch of the day; write from and to, like {LIKE}.")
    hour, minute, half = int(met[1]), int(met[2] or 0), (met[3] or "").lower()
    if half and 1 <= hour <= 12:
        hour = hour % 12 + (12 if half == "pm" else 0)
    elif half or hour > 23:
        raise WrongStretch(f"“{text.strip()[:20]}” is no time of the day; hours go from 0:00 to 23:59.")
    if minute > 59:
        raise WrongStretch(f"“{text.strip()[:20]}” is no time of the day; minutes go from 00 to 59.")
    return time(hour, minute)
