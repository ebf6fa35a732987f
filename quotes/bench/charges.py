"""What a job comes to for who pays: the agreed way, the agreed extras, or the work done until it was stopped.

Lines are as the customer agreed to them, at the tax rates of that day and with or without tax as prices were then.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal
from typing import Any, NamedTuple

from quotes.models import Extra, Job, Way
from quotes.totals import Line, Totals, totals
from shop import tax
from shop.models import Profile

ONE = Decimal(1)
BY_HAND = "by hand"  # the key of a line that a person wrote on a way, with its own price


class Charges(NamedTuple):
    """Lines to charge, whether their prices include tax, and the currency."""

    lines: tuple[Line, ...]
    prices_include_tax: bool
    currency: str

    def totals(self, prepaid: Decimal = Decimal(0)) -> Totals:
        """The totals of these lines by the shop's tax profile."""
        tie = tax.profile(Profile.objects.get().tax_profile).tie
        return totals(
            self.lines,
            currency=self.currency,
            prices_include_tax=self.prices_include_tax,
            tie=tie,
            prepaid=prepaid,
        )


def charges(job: Job) -> Charges:
    """What is charged for a job as it stands: nothing for a comeback at our cost."""
    return charged(job, list(job.extras.filter(state=Extra.State.AGREED).select_related("way")))


def charged(job: Job, agreed: Sequence[Extra]) -> Charges:
    """The same from its agreed extras, each with its way, already at hand."""
    document = job.way.totals.get("document") or {}
    includes = bool(document.get("prices_include_tax", True))
    currency = str(document.get("currency") or Profile.objects.get().currency)
    stop = next((extra for extra in agreed if extra.kind == Extra.Kind.STOPPED), None)
    if not job.billed:
        lines: list[Line] = []
    elif stop is not None:
        lines = _extra_lines(stop, includes, job) if stop.gross else []
    else:
        lines = way_lines(job.way, f"{job.way.title}, {job.takein.board.name}")
        for extra in agreed:
            if extra.kind == Extra.Kind.EXTRA:
                lines += _extra_lines(extra, includes, job)
    return Charges(tuple(lines), includes, currency)


def way_lines(way: Way, words: str) -> list[Line]:
    """The lines of a way as it was worked out: its work under these words, then its lines by hand."""
    return [_way_line(line, words) for line in way.totals.get("lines") or ()]


def _way_line(line: Mapping[str, Any], words: str) -> Line:
    said, key = (str(line["words"]), BY_HAND) if line["by_hand"] else (words, "")
    return Line(said, ONE, Decimal(line["price"]), line["tax_category"], Decimal(line["tax_percent"]), key=key)


def _extra_lines(extra: Extra, includes: bool, job: Job) -> list[Line]:
    if extra.way is not None and extra.kind == Extra.Kind.EXTRA:
        return way_lines(extra.way, extra.words)
    price = extra.gross if includes else extra.net
    words = extra.words
    if extra.kind == Extra.Kind.STOPPED:
        words = f"{job.way.title}, {job.takein.board.name}: work done until it was stopped"
    return [Line(words, ONE, price or Decimal(0), extra.tax_category, extra.tax_percent)]


def agreed_total(job: Job) -> Decimal:
    """What the job comes to with tax as it stands."""
    return charges(job).totals().gross


def suggested_stop(job: Job) -> Decimal:
    """A fair part of the agreed price for the work done: by its share of the planned minutes, as prices are shown."""
    shown = Decimal(str(job.way.totals.get("shown") or 0))
    steps = list(job.steps.all())
    planned = sum(Decimal(str(step.planned_minutes)) for step in steps)
    done = sum(Decimal(str(step.planned_minutes)) for step in steps if step.state == step.State.DONE)
    return (shown * done / planned).quantize(ONE, ROUND_HALF_UP) if planned else Decimal(0)
