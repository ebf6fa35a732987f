"""The plain day: how many days from now a board is promised for at once, before any future is played.

It is what boards that come in later are given, and the first day of a new job. Fitted by least squares to the days that
75 boards of simulated shops were promised for; a day of these lies 1.2 days (sd) round it.
"""

from __future__ import annotations

OWN_FACTOR = 2.5
QUEUE_FACTOR = 0.8
QUEUE_FACTOR_OF_RUSH = 0.4
DAYS_MORE = 1.5


def plain_days(*, own_h: float, queue_h: float, a_day_h: float, rush: bool) -> int:
    """Days from now, one or more.

    `own_h`: hours of the board's own hands and cures; `queue_h`: hours of hands ahead on all others; `a_day_h`: hours
    at the bench on a day of the calendar.
    """
    queue = (QUEUE_FACTOR_OF_RUSH if rush else QUEUE_FACTOR) * queue_h / a_day_h
    return max(1, round(OWN_FACTOR * own_h / 24 + queue + DAYS_MORE))
