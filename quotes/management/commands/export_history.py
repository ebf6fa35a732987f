"""Writes the shop's own history in the neutral CSV form, that `backtest --history` and any spreadsheet read."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from inventory.stock.totals import shop_zone
from quotes import experience
from quotes.costing.learning.files.csv_rows import ASK
from quotes.costing.learning.files.export import write_history, write_terms


class Command(BaseCommand):
    """`export_history DIR [--demo]`"""

    help = "Writes the shop's history as CSV files into a folder, with the jobs on the bench in ask.csv."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", type=Path, metavar="DIR", help="a new or an empty folder")

    def handle(self, *args: Any, folder: Path, **options: Any) -> None:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            raise CommandError(f"{folder} is there already and not an empty folder: name a new one.")
        with timezone.override(shop_zone()):
            day = timezone.localdate()
            gathered = experience.gather(day=day)
            history = gathered.history
            asked = experience.ask_terms(history.trade, day=day)
            texts = write_history(history) | {ASK: write_terms(asked, set_ups=history.trade.set_ups)}
        try:
            folder.mkdir(parents=True, exist_ok=True)
            for name, text in texts.items():
                (folder / name).write_text(text, encoding="utf-8")
        except OSError as error:
            raise CommandError(f"{folder}: cannot be written ({error.strerror}).") from error
        self.stdout.write(
            f"Wrote {len(texts)} files to {folder}: {gathered.jobs} finished jobs, {len(history.terms)} needs, "
            f"{len(history.logs)} logs, {len(history.receipts)} deliveries, {len(history.counts)} counts."
        )
