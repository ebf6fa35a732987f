"""The shop's time in the demo's story."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta

OPENS, CLOSES = time(9), time(18)
WORKS = range(5)  # Monday to Friday


def after(at: datetime, minutes: float) -> datetime:
    """So many minutes later, in the same zone; also over a night in which the clocks change."""
    return (at.astimezone(UTC) + timedelta(minutes=minutes)).astimezone(at.tzinfo)


class Clock:
    """The shop's time in the story: hands work from nine to six on weekdays, resin cures at night as well."""

    def __init__(self, at: datetime) -> None:
        self.at = at

    @classmethod
    def of_the_working_day_before(cls, now: datetime) -> Clock:
        """Clock at this time of day on the last working day before today, or the next in which hands work then."""
        day = now.date() - timedelta(days=1)
        while day.weekday() not in WORKS:
            day -= timedelta(days=1)
        at = min(max(now.time(), OPENS), time(CLOSES.hour - 1))
        return cls(datetime.combine(day, at, tzinfo=now.tzinfo))

    def go_on(self, minutes: float = 0) -> datetime:
        """Moment after so many minutes, moved on to when the shop works."""
        self.at = after(self.at, minutes)
        while self.at.weekday() not in WORKS or not OPENS <= self.at.time() < CLOSES:
            day = self.at.date() + timedelta(days=int(self.at.time() >= CLOSES or self.at.weekday() not in WORKS))
            self.at = datetime.combine(day, OPENS, tzinfo=self.at.tzinfo)
        return self.at

    def wait_for(self, moment: datetime | None) -> datetime:
        """Moment when the shop works at or after another; None waits for nothing."""
        if moment is not None and moment > self.at:
            self.at = moment.astimezone(self.at.tzinfo)
        return self.go_on()
