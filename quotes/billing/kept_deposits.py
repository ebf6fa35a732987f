"""A deposit that the shop keeps though nothing is charged: the customer called off what was agreed.

Idea: it is invoiced like work, so that it has a paper, a number and its tax; what is beyond it goes back on that
invoice. Whether tax stays due is the law of the place (`TaxProfile.taxes_kept_deposits`); where it does not, the tax of
the deposit is taken back with the invoice.
"""

from __future__ import annotations

from decimal import Decimal

from quotes.bench import Charges, agreed_total, on_account, standing_invoice
from quotes.bench.plan.order import locked
from quotes.billing.issuing import write_invoice
from quotes.billing.parts import House
from quotes.billing.tax_points import taxed_on_account
from quotes.models import Invoice, Job, Payment
from quotes.totals import DocumentLine
from quotes.totals.taxing import KEPT, gross_of
from shop.measures.apportion import apportion
from shop.measures.money import round_money, smallest_coin
from shop.platform.acts import SEES_MONEY, Refused, Signed, action

UNTAXED = ("O", Decimal(0))  # a compensation lies outside the scope of the tax


@action("money.keep_deposit", *SEES_MONEY)
def keep_deposit(*, job: Job, amount: Decimal, reason: str, signed: Signed) -> Invoice:
    """Keep so much of an ended job's deposits, with tax, and give the invoice of it; the rest is paid back on that.

    Raises Refused without a reason, where the work goes on, is charged or invoiced, and for more than is held.
    """
    if not reason.strip():
        raise Refused("Why is empty; say why the deposit is kept, like: called off the day before.", field="reason")
    job, house = locked(job), House.of(signed.shop)
    if job.on_the_bench:
        raise Refused("The work is not finished: make the release check first, or stop the work.")
    if (standing := standing_invoice(job)) is not None:
        raise Refused(f"This job is on invoice {standing.number}: credit that one altogether first.")
    if agreed_total(job):
        raise Refused("This job is charged: issue its invoice, or say first that nothing is charged.")
    held = on_account(job)
    if amount <= 0 or amount != round_money(amount, house.profile.currency):
        raise Refused("Amount must be above zero, in whole cents, like 50.00.", field="amount")
    if amount > held:
        raise Refused(f"Only {max(held, Decimal(0)):.2f} is held for this job; keep at most that.", field="amount")
    bill = Charges(_lines(house, job, amount, f"Deposit kept: {reason.strip()}"), True, house.profile.currency)
    return write_invoice(
        house,
        jobs=[job],
        buyer=job.way.board.quote.payer,
        whole=bill.totals(),
        lines=[(job, line) for line in bill.lines],
        money=list(Payment.objects.on_account().filter(job=job).order_by("pk")),
        signed=signed,
        cause=KEPT,
    )


def _lines(house: House, job: Job, amount: Decimal, words: str) -> tuple[DocumentLine, ...]:
    """Lines of what is kept, at the rates that the deposits were taxed at, each by its share."""
    taxed = [row for row in taxed_on_account([job]) if row.gross > 0]
    if not taxed or not house.rules.taxes_kept_deposits:
        return (DocumentLine(words, Decimal(1), amount, *UNTAXED),)
    shares = apportion(
        min(amount, gross_of(taxed)), [row.gross for row in taxed], smallest_coin(house.profile.currency)
    )
    lines = [
        DocumentLine(words, Decimal(1), share, row.category, row.percent.normalize())
        for row, share in zip(taxed, shares, strict=True)
        if share
    ]
    rest = amount - sum(shares, Decimal(0))  # money of a credited invoice, which no receipt taxed
    first = taxed[0]
    if rest:
        lines.append(DocumentLine(words, Decimal(1), rest, first.category, first.percent.normalize()))
    return tuple(lines)
