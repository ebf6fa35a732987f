"""What is done now and then, by a timer or by hand: whatever waits to be learned from is taken in, what open jobs
reserve in the store follows what is known now, the bench is played ahead, and finished jobs tell what learning was
worth. Safe to run twice.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from inventory.stock.totals import shop_zone
from quotes import experience
from quotes.bench.plan.reserving import reserve_job
from quotes.models import Job
from quotes.ready_days.outlook import look_again


class Command(BaseCommand):
    """`tick [--demo]`"""

    help = "Learns from what was written down since it was last worked out, puts the question of the day, renews what open jobs reserve, plays the bench ahead, and works out what learning was worth once enough jobs have ended."

    def handle(self, *args: Any, **options: Any) -> None:
        with timezone.override(shop_zone()):
            self.look_again()

    def look_again(self) -> None:
        """Learn anew where that waits, ask, reserve for open jobs, and backtest where that is due."""
        now = timezone.now()
        self.learn(now)
        experience.ask(on=timezone.localdate(now))
        jobs = Job.objects.filter(state=Job.State.OPEN).order_by("pk")
        for job in jobs:
            reserve_job(job=job, at=now)
        self.stdout.write(f"What {len(jobs)} open jobs need was looked at again.")
        seen = look_again(at=now)
        self.stdout.write(seen.trouble or f"The bench ahead was played {seen.draws} times: {len(seen.jobs)} jobs.")
        row = experience.backtest_at_night(day=timezone.localdate(now), at=timezone.now())
        if row is not None:
            self.stdout.write(f"What learning was worth was worked out again, from {row.jobs} finished jobs.")

    def learn(self, now: datetime) -> None:
        """Learn anew where a refit was put off."""
        if not experience.waits(experience.experience()):
            self.stdout.write("Nothing waits to be learned from.")
            return
        row = experience.learn(at=now)
        for note in row.notes:
            self.stderr.write(note)
        if row.stale_since is None:
            self.stdout.write(f"Learned from {row.jobs} jobs, {row.logs} logs and {row.counts} counts.")
