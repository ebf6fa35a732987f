"""Foretells jobs from a history in the neutral CSV form, or the shop's own jobs one by one from what was known before.

The latter is kept for the page, unless it was asked at another cost of an hour.
"""

from __future__ import annotations

import json
import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone

from quotes.costing.learning.backtest import BacktestedJob, BacktestSummary, ForecastError
from quotes.costing.learning.doubts import doubts
from quotes.costing.learning.files.csv_rows import ASK, COLUMNS, Unreadable
from quotes.costing.learning.files.interchange import read_all
from quotes.costing.learning.forecast import Forecast, forecast
from quotes.costing.learning.history import Term
from quotes.costing.learning.model.fit import fit

HOURLY = 45.0  # currency per hands-on hour, where nothing is said
TOLD = 40  # problems of a history that are told at once


class Command(BaseCommand):
    """`backtest [--history DIR [--ask FILE]] [--json] [--hourly 45] [--demo]`"""

    help = (
        "Walks through the shop's own finished jobs, or with --history foretells the jobs of --ask from a history in the "
        "neutral CSV form."
    )
    requires_system_checks = []  # with --history it reads files, not the database

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--history", type=Path, metavar="DIR", help="folder with the CSV files")
        parser.add_argument("--ask", type=Path, metavar="FILE", help="jobs to foretell; DIR/ask.csv where not given")
        parser.add_argument("--json", action="store_true", help="print one JSON object")
        parser.add_argument("--hourly", type=float, help="cost of a hands-on hour (45; of the own shop its rates)")

    def handle(self, *args: Any, **options: Any) -> None:
        hourly = options["hourly"]
        if hourly is not None and not (math.isfinite(hourly) and hourly >= 0):
            raise CommandError(f"--hourly must be an amount of no less than 0; {hourly:g} is not.")
        if options["history"] is not None:
            self.from_files(options["history"], options["ask"], HOURLY if hourly is None else hourly, options["json"])
        elif options["ask"] is not None:
            raise CommandError("--ask goes with --history DIR; the shop's own jobs are foretold one by one.")
        else:
            self.own_jobs(hourly, options["json"])

    def from_files(self, folder: Path, ask: Path | None, hourly: float, as_json: bool) -> None:
        """Foretell the jobs asked about from a history in files."""
        if not folder.is_dir():
            raise CommandError(f"{folder} is no folder; --history takes the one with the CSV files.")
        texts = {file: read(folder / file) for file in COLUMNS if (folder / file).exists()}
        ask = ask or folder / ASK
        if not ask.exists():
            raise CommandError(f"{ask} is missing; it says which jobs to foretell.")
        try:
            history, asked = read_all(texts, read(ask))
        except Unreadable as error:
            raise CommandError(first_of(error.problems)) from error
        fitted = fit(history)
        for note in fitted.state.notes:
            self.stderr.write(note)
        foretold = [forecast(fitted.state, history.trade, terms, hourly) for terms in by_job(asked)]
        doubtful = doubts(fitted, history.trade)
        if as_json:
            self.print_json(
                {"jobs": [found.as_dict() for found in foretold], "doubtful": [found.as_dict() for found in doubtful]}
            )
            return
        self.stdout.write(f"learnt from {fitted.state.jobs} jobs; median and 80 % range")
        for found in foretold:
            self.stdout.write(line(found))
        for doubt in doubtful:
            self.stdout.write(doubt.explanation)

    def own_jobs(self, hourly: float | None, as_json: bool) -> None:
        """Foretell the shop's own jobs one by one."""
        from inventory.stock.totals import shop_zone
        from quotes import experience
        from shop.models import Profile

        if not Profile.objects.exists():
            raise CommandError(
                "There is no shop in this database yet: set one up, or name a history with --history DIR."
            )
        with timezone.override(shop_zone()):
            walked = experience.backtest(day=timezone.localdate(), hourly=hourly)
        if hourly is None:
            experience.keep_backtest(walked=walked, at=timezone.now())
        if as_json:
            self.print_json(walked.as_dict())
            return
        if walked.summary is None:
            self.stdout.write(
                f"{walked.jobs} jobs are finished, and of none was enough written down to look back on: time the steps, "
                "weigh the mixes."
            )
            return
        for one in walked.looked:
            self.stdout.write(looked_line(one, walked.names))
        self.tell(walked.summary, walked.hourly)

    def tell(self, found: BacktestSummary, hourly: float) -> None:
        """Print how forecasts kept."""
        for name, one in (("material cost", found.material_cost), ("minutes", found.minutes), ("total", found.total)):
            self.stdout.write(kept_line(name, one))
        self.stdout.write(
            f"learning was worth {found.worth:.2f}: so much less cost was misjudged over {found.total.jobs} jobs, "
            f"an hour at {hourly:.2f}"
        )

    def print_json(self, answer: dict[str, Any]) -> None:
        """Print an answer as one JSON object."""
        self.stdout.write(json.dumps(answer, ensure_ascii=False, allow_nan=False))


def kept_line(name: str, kept: ForecastError) -> str:
    """How one figure was foretold, for the eye; nothing is claimed of a figure that no job has."""
    if not kept.jobs:
        return f"{name}: written down of no job"
    return (
        f"{name}: off by {kept.error:.1%} over {kept.jobs} jobs, by trade defaults {kept.trade_error:.1%}; "
        f"50 % ranges held {kept.within_50:.0%}, 80 % ranges held {kept.within_80:.0%}, 95 % ranges held {kept.within_95:.0%}"
    )


def looked_line(one: BacktestedJob, names: Mapping[str, str]) -> str:
    """One job looked back on, for the eye: what was expected, and what it really took."""
    parts = [
        f"{name} {law.quantile(0.5):.2f} ({law.quantile(0.1):.2f} to {law.quantile(0.9):.2f}), really {real:.2f}"
        for name, law, real in (
            ("material", one.learned.material_cost, one.real.material_cost),
            ("minutes", one.learned.minutes, one.real.minutes),
        )
        if real > 0
    ]
    return f"job {names[one.job]}, learnt from {one.learnt_from}: {'; '.join(parts)}"


def read(path: Path) -> str:
    """A file's text. Raises CommandError where it cannot be read or is not UTF-8."""
    try:
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        line = path.read_bytes()[: error.start].count(b"\n") + 1
        raise CommandError(f"{path.name}, line {line}: is not UTF-8 text.") from error
    except OSError as error:
        raise CommandError(f"{path}: cannot be read ({error.strerror}).") from error


def first_of(problems: Sequence[str]) -> str:
    """The first problems, a line each, and how many there are besides."""
    more = len(problems) - TOLD
    return "\n".join([*problems[:TOLD], *([f"and {more} more like these."] if more > 0 else [])])


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
