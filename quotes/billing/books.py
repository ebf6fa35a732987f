"""Do the papers add up? Totals recomputed from lines, prices from what they were made of, hashes from bytes, numbers counted.

Invariant: every issued paper is byte for byte what was given out, its totals follow from its lines in the order of
EN 16931, and each series runs without a gap up to its next number. What is found comes back as sentences.
"""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal
from typing import Any

from quotes.billing.parts import totals_from
from quotes.models import Document, Invoice, Payment, Quote, Way
from quotes.totals import Line, totals
from shop import tax
from shop.models import NumberSeries, Profile
from shop.paper import fingerprint

MONEY = ("net", "tax", "gross", "prepaid", "rounding", "payable")


def problems() -> list[str]:
    """A sentence for everything that does not add up; empty when the books are right."""
    return [*_papers(), *_invoices(), *_payments(), *_quotes(), *_numbers()]


def _papers() -> Iterator[str]:
    for paper in Document.objects.only("name", "pdf", "sha256").iterator(chunk_size=50):
        if fingerprint(bytes(paper.pdf)) != paper.sha256:
            yield f"{paper.name} is not the paper that was given out: its bytes have another hash."


def _tie() -> Any:
    profile = Profile.objects.first()
    return tax.profile(profile.tax_profile).tie if profile else "half_up"


def _invoices() -> Iterator[str]:
    tie = _tie()
    for invoice in Invoice.objects.select_related("document").prefetch_related("lines").iterator(chunk_size=50):
        frozen = totals_from(invoice.frozen["totals"])
        again = totals(
            [
                Line(line.words, line.quantity, line.unit_price, line.tax_category, line.tax_percent, line.unit)
                for line in invoice.lines.all()
            ],
            currency=invoice.currency,
            prices_include_tax=frozen.prices_include_tax,
            tie=tie,
            prepaid=invoice.prepaid,
            rounding=invoice.rounding,
        )
        for name in MONEY:
            kept, worked, printed = getattr(invoice, name), getattr(again, name), getattr(frozen, name)
            if not kept == worked == printed:
                yield f"{invoice}: {name} is kept as {kept}, printed as {printed}, and its lines come to {worked}."
        amounts = tuple(line.amount for line in invoice.lines.all())
        if amounts != again.line_amounts:
            yield f"{invoice}: its lines are kept as other amounts than quantity times price gives."
        if invoice.document.content != invoice.frozen:
            yield f"{invoice}: what the row froze is not what the paper was made from."
        deposits = sum((Decimal(each["amount"]) for each in invoice.frozen.get("prepaid", [])), Decimal(0))
        if deposits != invoice.prepaid:
            yield f"{invoice}: the deposits named on it come to {deposits}, not the {invoice.prepaid} taken off."


def _payments() -> Iterator[str]:
    for invoice in Invoice.objects.filter(kind=Invoice.Kind.INVOICE).with_balance():
        if invoice.left < 0 and not invoice.credited:
            yield f"{invoice} is paid {-invoice.left} more than it asks for."
    for payment in Payment.objects.filter(document=None):
        yield f"Receipt {payment.number} has no paper."


def _quotes() -> Iterator[str]:
    sent = Quote.objects.exclude(sent_at=None)
    for quote in sent.filter(document=None):
        yield f"{quote} was sent without its paper being kept."
    for way in Way.objects.filter(board__quote__in=sent).exclude(net=None).select_related("board__quote"):
        document = totals_from(way.totals["document"])
        for name in ("net", "tax", "gross"):
            if getattr(way, name) != getattr(document, name):
                yield f"{way.board.quote}, {way}: {name} is kept as {getattr(way, name)}, worked out {getattr(document, name)}."


def _numbers() -> Iterator[str]:
    given = {
        "quote": Quote.objects.exclude(sequence=None).values_list("sequence", flat=True).distinct(),
        "invoice": Invoice.objects.filter(series="invoice").values_list("sequence", flat=True),
        "credit": Invoice.objects.filter(series="credit").values_list("sequence", flat=True),
        "receipt": Payment.objects.values_list("sequence", flat=True),
    }
    following = dict(NumberSeries.objects.values_list("key", "next_number"))
    for key, sequences in given.items():
        numbers = sorted(set(sequences))
        if not numbers:
            continue
        missing = sorted(set(range(numbers[0], numbers[-1] + 1)) - set(numbers))
        if missing:
            yield f"The {key} series has gaps: {', '.join(map(str, missing[:10]))}."
        if following.get(key) != numbers[-1] + 1:
            yield f"The {key} series would go on with {following.get(key)} after {numbers[-1]}."
