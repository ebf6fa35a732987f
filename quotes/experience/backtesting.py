"""The shop's own finished jobs foretold one by one from what was known before each.

The last result is kept for its page. The command, the nightly tick and the page's button all go through `backtest`, so
that they say the same figures.
"""

from __future__ import annotations

import logging
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any

from django.utils import timezone

from quotes.costing.learning.backtest import BacktestedJob, BacktestSummary, backtest_jobs, summary
from quotes.estimating import shop_inputs
from quotes.experience.gathering import gather
from quotes.experience.reading import tags
from quotes.experience.refit import hourly as hourly_of
from quotes.experience.refit import learn, learned_elsewhere
from quotes.models import BACKTEST_VERSION, Backtest, Job
from shop.platform.acts import internal

WALKED_AT_ONCE = 30
"""Finished jobs up to which the page works it out while somebody waits: one to two seconds on a small machine."""

WALKED_AT_NIGHT = 100  # of the last jobs, by `tick`: each is a fit of all that was known before it
WORTH_IT = 20  # `tick` walks again once one job in so many has ended since
KEPT = 100  # jobs that are kept one by one; the summary is over all that were walked
_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Walked:
    """Each job foretold, with its tag; over all of them; from how many finished jobs, at what cost of an hour."""

    looked: Sequence[BacktestedJob]
    names: Mapping[str, str]
    summary: BacktestSummary | None
    jobs: int
    hourly: float

    def as_dict(self) -> dict[str, Any]:
        """As `backtest --json` prints it, and as the page reads it."""
        return {
            "jobs": [_as_dict(one, self.names) for one in self.looked],
            "summary": None if self.summary is None else asdict(self.summary),
        }


def _as_dict(one: BacktestedJob, names: Mapping[str, str]) -> dict[str, Any]:
    return {
        "job": one.job,
        "tag": names[one.job],
        "learnt_from": one.learnt_from,
        "learned": one.learned.as_dict(),
        "trade": one.trade.as_dict(),
        "real": {"material_cost": one.real.material_cost, "minutes": one.real.minutes, "stock": one.real.stock},
    }


def backtest(*, day: date, hourly: float | None = None, last: int | None = None) -> Walked:
    """Every finished job, or the `last` of them, foretold from what was known before it, at the prices of `day`.

    `hourly` is the cost of a hands-on hour in currency, the shop's own on that day where it is not given. One fit a
    job.
    """
    hourly = hourly_of(shop_inputs(day=day)) if hourly is None else hourly
    gathered = gather(day=day)
    looked = backtest_jobs(gathered.history, gathered.real, hourly, last=last)
    return Walked(looked, tags(one.job for one in looked), summary(looked, hourly), gathered.jobs, hourly)


@internal
def keep_backtest(*, walked: Walked, at: datetime) -> Backtest:
    """The result in place of the one before it."""
    found = walked.as_dict()
    answer = {**found, "jobs": found["jobs"][-KEPT:]}
    row, _ = Backtest.objects.update_or_create(
        pk=1,
        defaults={
            "version": BACKTEST_VERSION,
            "answer": answer,
            "hourly": walked.hourly,
            "jobs": walked.jobs,
            "made_at": at,
        },
    )
    return row


def kept_backtest() -> Backtest:
    """The last result; an empty row, not stored, before there is one that this version can read. One query."""
    return Backtest.objects.readable().filter(pk=1).first() or Backtest(pk=1)


def finished_jobs() -> int:
    """How many jobs are finished. One query."""
    return Job.objects.filter(state__in=Job.DONE).count()


def finished_since(row: Backtest) -> int:
    """How many jobs were finished after a result was made; all of them before there is one. One query."""
    jobs = Job.objects.filter(state__in=Job.DONE)
    return (jobs.filter(finished_at__gt=row.made_at) if row.made_at else jobs).count()


def backtest_at_night(*, day: date, at: datetime) -> Backtest | None:
    """Walks again where enough jobs ended since the last time; None where there is nothing new to say."""
    row = kept_backtest()
    since = finished_since(row)
    if not since or since * WORTH_IT < row.jobs:
        return None
    return keep_backtest(walked=backtest(day=day, last=WALKED_AT_NIGHT), at=at)


def renew(*, at: datetime) -> str:
    """What another version of the software learned or foretold is worked out anew from rows; a sentence where it was.

    Never fails: what cannot be worked out waits for `tick`.
    """
    said = ""
    if learned_elsewhere():
        row = learn(at=at)
        done = row.stale_since is None
        said = f"Learned anew from {row.jobs} jobs." if done else f"What the shop learned waits: {row.notes[0]}"
    if Backtest.objects.exists() and not Backtest.objects.readable().exists():
        try:
            backtest_at_night(day=timezone.localdate(at), at=at)
        except Exception:  # a page of looking back keeps nobody from working
            _log.exception("the finished jobs could not be foretold again")
    return said
