"""The shop's time in the demo's story."""

from __future__ import annotations

from datetime import datetime, time, timedelta

OPENS, CLOSES = time(9), time(18)


class Clock:
    """The shop's time in the story: hands work from nine to six on weekdays, resin cures at night as well."""

    def __init__(self, at: datetime) -> None:
        self.at = at

    def go_on(self, minutes: float = 0) -> datetime:
        self.at += timedelta(minutes=minutes)
        while self.at.weekday() > 4 or not OPENS <= self.at.time() < CLOSES:
            day = self.at.date() + timedelta(days=int(self.at.time() >= CLOSES or self.at.weekday() > 4))
            self.at = datetime.combine(day, OPENS, tzinfo=self.at.tzinfo)
        return self.at

    def wait_for(self, moment: datetime | None) -> datetime:
        if moment is not None and moment > self.at:
            self.at = moment.astimezone(self.at.tzinfo)
        return self.go_on()
