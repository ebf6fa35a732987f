"""What a job comes to for who pays: the agreed way, the agreed extras, the work done until a stop, or nothing.

Lines are as the customer agreed to them, at the tax rates of that day and with or without tax as prices were then.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from decimal import ROUND_HALF_UP, Decimal
from typing import Any, NamedTuple

from django.db.models import QuerySet

from quotes.models import Extra, Invoice, Job, Payment, Step, Way
from quotes.totals import DocumentLine, Totals, totals
from shop.countries import tax
from shop.models import Profile

ZERO, ONE = Decimal(0), Decimal(1)
BY_HAND = "by hand"  # the key of a line that a person wrote on a way, with its own price


class Charges(NamedTuple):
    """Lines to charge, whether their prices include tax, and the currency."""

    lines: tuple[DocumentLine, ...]
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
    """What is charged for a job as it stands: nothing for a comeback at our cost, nor where nothing is charged."""
    return charged(job, list(job.extras.filter(state=Extra.State.AGREED).select_related("way")))


def charged(job: Job, agreed: Sequence[Extra]) -> Charges:
    """What is charged for a job as it stands, from its agreed extras, each with its way, already at hand."""
    document = job.way.totals.get("document") or {}
    includes = bool(document.get("prices_include_tax", True))
    currency = str(document.get("currency") or Profile.objects.get().currency)
    stop = next((extra for extra in agreed if extra.kind == Extra.Kind.STOPPED), None)
    if not job.billed or any(extra.kind == Extra.Kind.UNCHARGED for extra in agreed):
        lines: list[DocumentLine] = []
    elif stop is not None:
        lines = _extra_lines(stop, includes, job) if stop.gross else []
    else:
        lines = way_lines(job.way, f"{job.way.title}, {job.takein.board.name}")
        for extra in agreed:
            if extra.kind == Extra.Kind.EXTRA:
                lines += _extra_lines(extra, includes, job)
    return Charges(tuple(lines), includes, currency)


def way_lines(way: Way, words: str) -> list[DocumentLine]:
    """The lines of a way as it was worked out: its work under these words, then its lines by hand."""
    return [_way_line(line, words) for line in way.totals.get("lines") or ()]


def _way_line(line: Mapping[str, Any], words: str) -> DocumentLine:
    said, key = (str(line["words"]), BY_HAND) if line["by_hand"] else (words, "")
    return DocumentLine(said, ONE, Decimal(line["price"]), line["tax_category"], Decimal(line["tax_percent"]), key=key)


def _extra_lines(extra: Extra, includes: bool, job: Job) -> list[DocumentLine]:
    if extra.way is not None and extra.kind == Extra.Kind.EXTRA:
        return way_lines(extra.way, extra.words)
    price = extra.gross if includes else extra.net
    words = extra.words
    if extra.kind == Extra.Kind.STOPPED:
        words = f"{job.way.title}, {job.takein.board.name}: work done until it was stopped"
    return [DocumentLine(words, ONE, price or Decimal(0), extra.tax_category, extra.tax_percent)]


def agreed_total(job: Job) -> Decimal:
    """What the job comes to with tax as it stands."""
    return charges(job).totals().gross


def on_account(job: Job) -> Decimal:
    """Money of the job that no invoice holds by itself: deposits, less what was paid back."""
    return Payment.objects.on_account().filter(job=job).total()


class Due(NamedTuple):
    """What is open on a job, with tax; below zero is to be given back.

    Of an invoice that is for several jobs it is the whole, with its number in `joint` and the tags of all of them.
    """

    amount: Decimal
    invoiced: bool = False
    joint: str = ""
    tags: tuple[str, ...] = ()

    @property
    def back(self) -> Decimal:
        """What is to be given back."""
        return -self.amount


def dues(jobs: QuerySet[Job]) -> dict[int, Due]:
    """What is open on each job, by its key: on its invoice, or as agreed less what was taken. Five queries."""
    rows = {job.pk: job for job in jobs.select_related("way").only("state", "billed", "way__gross")}
    extras: dict[int, list[Extra]] = defaultdict(list)
    for extra in Extra.objects.filter(job__in=rows, state=Extra.State.AGREED).only("job", "kind", "gross"):
        extras[extra.job_id].append(extra)
    taken = Payment.objects.on_account().filter(job__in=rows).by("job")
    found = {pk: Due(_agreed(job, extras[pk]) - taken.get(pk, ZERO)) for pk, job in rows.items()}
    standing = {row.pk: row for row in Invoice.objects.standing().filter(jobs__in=rows).only("number")}
    on: dict[int, list[tuple[int, str]]] = defaultdict(list)
    links = Invoice.jobs.through.objects.filter(invoice__in=standing).order_by("job")
    for invoice, job, tag in links.values_list("invoice", "job", "job__takein__tag"):
        on[invoice].append((job, tag))
    for pk, linked in on.items():
        tags = tuple(dict.fromkeys(tag for _, tag in linked)) if len(linked) > 1 else ()
        due = Due(standing[pk].left, True, standing[pk].number if tags else "", tags)
        found |= {job: due for job, _ in linked if job in found}
    return found


def _agreed(job: Job, extras: Iterable[Extra]) -> Decimal:
    by_kind: dict[str, Decimal] = {}
    for extra in extras:
        by_kind[extra.kind] = by_kind.get(extra.kind, ZERO) + (extra.gross or ZERO)
    if not job.billed or Extra.Kind.UNCHARGED in by_kind:
        return ZERO
    if Extra.Kind.STOPPED in by_kind:
        return by_kind[Extra.Kind.STOPPED]
    return (job.way.gross or ZERO) + by_kind.get(Extra.Kind.EXTRA, ZERO)


def uncharged(job: Job) -> Extra | None:
    """Why nothing is charged for a job, as it was said; None where it is charged as agreed."""
    return job.extras.filter(kind=Extra.Kind.UNCHARGED, state=Extra.State.AGREED).first()


def stopped(job: Job) -> Extra | None:
    """Why a job was stopped after opening, and how that was agreed; None where it was not."""
    return job.extras.filter(kind=Extra.Kind.STOPPED, state=Extra.State.AGREED).first()


def suggested_stop(job: Job) -> Decimal:
    """A fair part of what was agreed, extras too, for the work done: by its planned minutes, as prices are shown.

    Its share is of what was done and what is still ahead. What was left out, as by another way, is neither; what is
    done at our cost, again or because a window was missed, is not the customer's.
    """
    at_our_cost = job.extras.filter(kind=Extra.Kind.ABSORBED, way__isnull=False).values("way")
    steps = job.steps.exclude(state=Step.State.DROPPED).exclude(part__way__in=at_our_cost)
    steps = steps.exclude(redo_of__isnull=False, redo_billed=False)
    minutes = {True: ZERO, False: ZERO}
    for state, planned, put_in in steps.values_list("state", "plan__minutes", "plan__put_in"):
        if not put_in:
            minutes[state == Step.State.DONE] += Decimal(str(planned or 0))
    whole = sum(minutes.values(), ZERO)
    agreed = charges(job).totals().lines_total
    return (agreed * minutes[True] / whole).quantize(ONE, ROUND_HALF_UP) if whole else ZERO
