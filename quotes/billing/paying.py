"""Money taken and given back, each with its receipt: a deposit, a payment on an invoice, a rest paid back.

Idea: money without an invoice lies on the account of its job; an invoice takes it as prepaid. A receipt's number is
taken, its paper set and kept, and the row stored in one transaction. Locks: job or invoice first, the series last.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from quotes.bench import agreed_total, charges, on_account, standing_invoice
from quotes.bench.plan.order import locked
from quotes.billing.parts import House
from quotes.billing.tax_points import taxed_on_account, write_points
from quotes.models import Invoice, Job, Payment
from quotes.papers import keeping
from quotes.papers import receipt as receipt_paper
from quotes.totals import Totals, advance, cash_due, deposit_of
from quotes.totals.taxing import BACK, DEPOSIT, Point, Rows, as_totals, less, rows_as_data
from shop.business.numbering import next_number
from shop.measures.money import round_money
from shop.models import Profile
from shop.platform.acts import SEES_MONEY, Refused, Signed, action

ZERO = Decimal(0)


def balance(invoice: Invoice) -> Decimal:
    """What is still to be paid on an invoice, with tax; below zero is to be paid back."""
    return Invoice.objects.with_balance().get(pk=invoice.pk).left


def to_pay(invoice: Invoice, method: str) -> Decimal:
    """What is to be paid on an invoice by a method, with tax: cash in whole coins where the tax profile says so."""
    return cash_due(balance(invoice), cash_step(House.of(Profile.objects.get()), method))


def suggested_deposit(job: Job) -> Decimal:
    """The deposit on the agreed total, as the quote says it or else the shop, less what was taken already."""
    said = job.way.board.quote.document
    percent = Decimal(said.content["deposit_percent"]) if said else Profile.objects.get().deposit_percent
    return max(ZERO, deposit_of(agreed_total(job), percent) - on_account(job))


@action("money.deposit", *SEES_MONEY)
def take_deposit(*, job: Job, amount: Decimal, method: str, signed: Signed) -> Payment:
    """Take a deposit on a job and give its receipt. Raises Refused beyond the agreed total, and once it is invoiced."""
    job = locked(job)
    if standing_invoice(job) is not None:
        raise Refused("This job is invoiced already: take the money as a payment on its invoice.")
    house, whole = House.of(signed.shop), charges(job).totals()
    amount = amount_taken(amount, method, whole.currency)
    left = whole.gross - on_account(job)
    if left <= 0:
        raise Refused("Nothing more is to be paid for this job, so there is no deposit to take.", field="amount")
    if amount > left:
        raise Refused(f"A deposit can be at most {left:.2f}, what the agreed work comes to.", field="amount")
    deposit = Payment(
        kind=Payment.Kind.DEPOSIT, amount=amount, method=method, customer=job.way.board.quote.payer, job=job
    )
    words = f"Deposit for {job.way.title}, {job.takein.board.name}, tag {job.takein.tag}"
    taxed = _taxed(house, job, whole, amount)
    return receipted(deposit, house, words=words, left=left - amount, taxed=taxed, signed=signed)


def _taxed(house: House, job: Job, whole: Totals, amount: Decimal) -> Rows:
    """The tax that falls due with a deposit: on no more than what is not taxed yet of the agreed total."""
    if not house.rules.tax_on_deposit:
        return ()
    left = less(whole.tax_rows, taxed_on_account([job]))
    untaxed = sum((max(row.gross, ZERO) for row in left), ZERO)
    return (
        advance(as_totals(left, whole.currency), min(amount, untaxed), tie=house.rules.tie).tax_rows if untaxed else ()
    )


@action("money.payment", *SEES_MONEY)
def pay(*, invoice: Invoice, amount: Decimal, method: str, signed: Signed) -> Payment:
    """Take a payment on an invoice, in part or whole, and give its receipt. Raises Refused for more than is left."""
    invoice = Invoice.objects.select_for_update().get(pk=invoice.pk)
    if invoice.kind != Invoice.Kind.INVOICE:
        raise Refused("Money is taken on an invoice, not on a credit note.")
    house, left = House.of(signed.shop), balance(invoice)
    amount, step = amount_taken(amount, method, invoice.currency), cash_step(house, method)
    most = cash_due(left, step)
    if left <= 0:
        raise Refused("Nothing is left to pay on this invoice.", field="amount")
    if amount > most:
        raise Refused(f"Only {most:.2f} is left to pay; take at most that.", field="amount")
    check_coins(amount, step, most)
    rounding = left - amount if amount == most else Decimal(0)
    payment = Payment(
        kind=Payment.Kind.PAYMENT,
        amount=amount,
        rounding=rounding,
        method=method,
        customer=invoice.customer,
        job=invoice.jobs.order_by("pk").first(),
        invoice=invoice,
    )
    words = f"Payment on {invoice.frozen['title'].lower()} {invoice.number}"
    return receipted(payment, house, words=words, left=left - amount - rounding, signed=signed)


def amount_taken(amount: Decimal, method: str, currency: str) -> Decimal:
    """An amount of money that can be taken, in whole cents. Raises Refused beside the field that is wrong."""
    if amount <= 0:
        raise Refused("Amount must be above zero, like 50.00.", field="amount")
    if amount != round_money(amount, currency):
        raise Refused(f"Amount has more decimals than {currency} has coins for.", field="amount")
    if method not in Payment.Method.values:
        raise Refused("Say how it is paid: cash, card or bank transfer.", field="method")
    return amount


def cash_step(house: House, method: str) -> Decimal | None:
    """The smallest coin where the tax profile has one and it is paid in cash; None otherwise."""
    return house.rules.cash_step if method == Payment.Method.CASH else None


def check_coins(amount: Decimal, step: Decimal | None, whole: Decimal) -> None:
    """Raises Refused where an amount cannot be counted out in the smallest coin."""
    if step and amount % step:
        raise Refused(f"Cash comes in steps of {step:.2f} here; the whole is {whole:.2f} in cash.", field="amount")


def receipted(
    payment: Payment, house: House, *, words: str, left: Decimal | None, signed: Signed, taxed: Rows = ()
) -> Payment:
    """Money taken or paid back, not stored yet: its number, its paper, its row and its tax points.

    `left` is still to be paid; `taxed` the tax that it accounts for, below zero where money goes back.
    """
    sequence, number = next_number("receipt", day=signed.day)
    title = "Receipt" if payment.amount > 0 else "Receipt, money paid back"
    cause = DEPOSIT if payment.amount > 0 else BACK
    head = house.content(document="receipt", title=title, number=number, day=signed.day, buyer=payment.customer)
    content: dict[str, Any] = {
        **head,
        "receipt_paper": house.profile.receipt_paper,
        "kind": payment.kind,
        "words": words,
        "amount": str(abs(payment.amount)),
        "rounding": str(payment.rounding),
        "method": Payment.Method(payment.method).label,
        "left": None if left is None else str(left),
        "invoice": payment.invoice.number if payment.invoice else None,
        "tax_rows": rows_as_data(taxed, house.profile.currency),
        "tax_points": [Point(cause, row).as_dict(house.profile.currency) for row in taxed],
        "taken_by": signed.by.name,
    }
    pdf = keeping.made(receipt_paper.pdf, content)
    payment.document = keeping.keep("receipt", f"receipt-{number}.pdf", pdf, signed=signed, content=content)
    payment.quote = payment.job.way.board.quote if payment.job else None
    payment.received_at, payment.by, payment.frozen = signed.at, signed.by, content
    payment.series, payment.sequence, payment.number = "receipt", sequence, number
    payment.save()
    write_points(payment)
    said = {"deposit": "Took a deposit", "payment": "Took a payment"}.get(payment.kind, "Paid back")
    signed.record(payment, f"{said}: {abs(payment.amount):.2f}, receipt {number}")
    return payment
