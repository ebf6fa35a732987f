"""Rates that are not those of the yes any more: asked about when the invoice is issued.

The rate is that of the day the tax falls due: the end of the work, for a deposit its receipt. What a deposit was taxed
at stays; the rest of a line takes the new rate, its price as it was agreed, with or without tax as prices are.
Source: Directive 2006/112/EC, articles 63, 65 and 93.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import NamedTuple

from quotes.bench import charges
from quotes.billing import two_thirds
from quotes.billing.two_thirds import Rate, goods_rate_of
from quotes.models import Job
from quotes.quoting import shop_day
from quotes.totals import DocumentLine, TaxRow
from shop.models import Profile, TaxRate
from shop.text.formats import day_year, within

AGREED, IN_FORCE = "agreed", "in_force"
ZERO = Decimal(0)


class RateChange(NamedTuple):
    """A rate that was agreed and the one that the law has now, category and per cent each, with a sentence why.

    `jobs` are the keys of those it is for. `deposits_stay`: what a deposit was taxed at stays.
    """

    old: Rate
    new: Rate
    words: str
    jobs: frozenset[int]
    deposits_stay: bool = True


def rate_changes(jobs: Iterable[Job], profile: Profile) -> list[RateChange]:
    """Rates that ended between the yes and the end of the work, and those of jobs that are goods for the most part.

    A rate that somebody typed on a line and that is none of the shop's has no end.
    """
    rates = list(TaxRate.objects.order_by("from_day"))
    some_ended = any(rate.to_day for rate in rates)
    found: list[RateChange] = []
    for job in jobs:
        if not job.finished_at:
            continue
        day = shop_day(job.finished_at)
        on = [rate for rate in rates if rate.from_day <= day and (rate.to_day is None or day <= rate.to_day)]
        goods = goods_rate_of(profile, on)
        mostly = two_thirds.of_job(job, goods) if goods else None
        if mostly:
            words = f"Tag {job.takein.tag}: {within(mostly.words(profile))}"
            found += [
                RateChange(old, mostly.rate, words, frozenset({job.pk}), deposits_stay=False) for old in mostly.lower
            ]
        elif some_ended:
            olds = dict.fromkeys((line.tax_category, line.tax_percent.normalize()) for line in charges(job).lines)
            found += [change for old in olds if (change := _ended(rates, on, old, job))]
    return found


def _ended(rates: Sequence[TaxRate], on: Sequence[TaxRate], old: Rate, job: Job) -> RateChange | None:
    """What took the place of a rate that is no longer in force; of the same name, or else for repairs too."""
    own = [rate for rate in rates if (rate.category, rate.percent.normalize()) == old]
    if not own or any(rate in on for rate in own):
        return None
    last = own[-1]
    same = [rate for rate in on if rate.name == last.name]
    same = same or [rate for rate in on if rate.for_repairs and last.for_repairs]
    if not same:
        return None
    new = same[0].category, same[0].percent.normalize()
    words = f"{old[1].normalize():f} % is {new[1].normalize():f} % since {day_year(same[0].from_day)}"
    return RateChange(old, new, words, frozenset({job.pk}))


def in_words(changes: Iterable[RateChange]) -> str:
    """What has changed, each once, for a sentence."""
    return "; ".join(dict.fromkeys(change.words for change in changes))


def rerated(
    lines: Sequence[tuple[Job | None, DocumentLine]],
    changes: Iterable[RateChange],
    taxed: Iterable[TaxRow],
    *,
    prices_include_tax: bool,
) -> list[tuple[Job | None, DocumentLine]]:
    """Lines at the rates the law has now; of each old rate as much stays as deposits were `taxed` at it."""
    new = {(job, change.old): change for change in changes for job in change.jobs}
    stays = {(row.category, row.percent.normalize()): row.gross if prices_include_tax else row.net for row in taxed}
    made: list[tuple[Job | None, DocumentLine]] = []
    for job, line in lines:
        rate = (line.tax_category, line.tax_percent.normalize())
        change = new.get((job.pk if job else 0, rate))
        if change is None:
            made.append((job, line))
            continue
        whole = line.unit_price * line.quantity
        old = min(max(stays.get(rate, ZERO), ZERO), whole) if change.deposits_stay else ZERO
        stays[rate] = stays.get(rate, ZERO) - old
        category, percent = change.new
        if old:
            made.append((job, replace(line, quantity=Decimal(1), unit_price=old)))
        if whole - old or not old:
            rest = replace(line, quantity=Decimal(1), unit_price=whole - old)
            made.append((job, replace(rest, tax_category=category, tax_percent=percent)))
    return made
