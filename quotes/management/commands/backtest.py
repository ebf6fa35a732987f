"""Foretells jobs from a history in the neutral CSV form, and says which of its logs are doubtful."""

from __future__ import annotations

import json
import math
from collections import defaultdict
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from quotes.costing.learning.csv_rows import ASK, COLUMNS, Unreadable
from quotes.costing.learning.doubts import doubts
from quotes.costing.learning.fit import fit
from quotes.costing.learning.forecast import Forecast, forecast
from quotes.costing.learning.history import Term
from quotes.costing.learning.neutral import read_all

HOURLY = 45.0  # currency per hands-on hour, where nothing is said


class Command(BaseCommand):
    """`backtest --history DIR [--ask FILE] [--json] [--hourly 45]`"""

    help = "Foretells the jobs of --ask from a history in the neutral CSV form."
    requires_system_checks = []  # it reads files, not the database

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--history", type=Path, metavar="DIR", help="folder with the CSV files")
        parser.add_argument("--ask", type=Path, metavar="FILE", help="jobs to foretell; DIR/ask.csv where not given")
        parser.add_argument("--json", action="store_true", help="print one JSON object")
        parser.add_argument("--hourly", type=float, default=HOURLY, help="cost of a hands-on hour (45)")

    def handle(self, *args: Any, **options: Any) -> None:
        folder, hourly = options["history"], options["hourly"]
        if folder is None:
            raise CommandError("Say where the history lies: --history DIR.")
        if not (math.isfinite(hourly) and hourly >= 0):
            raise CommandError(f"--hourly must be an amount of no less than 0; {hourly:g} is not.")
        texts = {file: read(folder / file) for file in COLUMNS if (folder / file).exists()}
        ask = options["ask"] or folder / ASK
        if not ask.exists():
            raise CommandError(f"{ask} is missing; it says which jobs to foretell.")
        try:
            history, asked = read_all(texts, read(ask))
        except Unreadable as error:
            raise CommandError(str(error)) from error
        fitted = fit(history)
        for note in fitted.state.notes:
            self.stderr.write(note)
        foretold = [forecast(fitted.state, history.trade, terms, hourly) for terms in by_job(asked)]
        doubtful = doubts(fitted, history.trade)
        if options["json"]:
            answer = {
                "jobs": [found.as_dict() for found in foretold],
                "doubtful": [found.as_dict() for found in doubtful],
            }
            self.stdout.write(json.dumps(answer, ensure_ascii=False, allow_nan=False))
            return
        self.stdout.write(f"learnt from {fitted.state.jobs} jobs; median and 80 % range")
        for found in foretold:
            self.stdout.write(line(found))
        for doubt in doubtful:
            self.stdout.write(doubt.explanation)


def read(path: Path) -> str:
    """A file's text. Raises CommandError where it cannot be read or is not UTF-8."""
    try:
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        line = path.read_bytes()[: error.start].count(b"\n") + 1
        raise CommandError(f"{path.name}, line {line}: is not UTF-8 text.") from error
    except OSError as error:
        raise CommandError(f"{path}: cannot be read ({error.strerror}).") from error


def by_job(terms: list[Term]) -> list[list[Term]]:
    """The steps of each job, in the order in which jobs are first named."""
    jobs: dict[str, list[Term]] = defaultdict(list)
    for term in terms:
        jobs[term.job].append(term)
    return list(jobs.values())


def line(found: Forecast) -> str:
    """One job for the eye."""
    parts = [
        f"{name} {law.quantile(0.5):.2f} ({law.quantile(0.1):.2f} to {law.quantile(0.9):.2f})"
        for name, law in (("material", found.material_cost), ("minutes", found.minutes), ("total", found.total))
    ]
    return f"job {found.job}: {', '.join(parts)}"
