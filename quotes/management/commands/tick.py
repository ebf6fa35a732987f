"""What is done now and then, by a timer or by hand: whatever waits to be learned from is taken in. Safe to run twice."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand
from django.utils import timezone

from quotes import experience


class Command(BaseCommand):
    """`tick [--demo]`"""

    help = "Learns from what was written down since it was last worked out; does nothing where nothing waits."

    def handle(self, *args: Any, **options: Any) -> None:
        before = experience.experience()
        if before.stale_since is None:
            self.stdout.write("Nothing waits to be learned from.")
            return
        row = experience.learn(at=timezone.now())
        for note in row.notes:
            self.stderr.write(note)
        if row.stale_since is None:
            self.stdout.write(f"Learned from {row.jobs} jobs, {row.logs} logs and {row.counts} counts.")
