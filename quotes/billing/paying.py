"""Money taken and given back, each with its receipt: a deposit, a payment on an invoice, a rest paid back.

Idea: money without an invoice lies on the account of its job; an invoice takes it as prepaid. A receipt's number is
taken, its paper set and kept, and the row stored in one transaction. Locks: job or invoice first, the series last.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any, NamedTuple

from django.db.models import Exists, OuterRef, Q

from quotes.bench import agreed_total, charges, dues, on_account, standing_invoice
from quotes.bench.plan.order import locked
from quotes.billing.parts import House, rows_as_data, totals_from
from quotes.models import Invoice, Job, Payment
from quotes.papers import keeping
from quotes.papers import receipt as receipt_paper
from quotes.totals import Totals, advance, cash_due, deposit_of, left_after
from shop.business.numbering import next_number
from shop.measures.money import round_money
from shop.models import Customer, Profile
from shop.platform.acts import SEES_MONEY, Refused, Signed, action

ZERO = Decimal(0)


def balance(invoice: Invoice) -> Decimal:
    """What is still to be paid on an invoice, with tax; below zero is to be paid back."""
    return Invoice.objects.with_balance().get(pk=invoice.pk).left


def to_pay(invoice: Invoice, method: str) -> Decimal:
    """What is to be paid on an invoice by a method, with tax: cash in whole coins where the tax profile says so."""
    return cash_due(balance(invoice), _cash_step(House.of(Profile.objects.get()), method))


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
    amount = _taken(amount, method, whole.currency)
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
    return _receive(deposit, house, words=words, left=left - amount, taxed=taxed, signed=signed)


def _taxed(house: House, job: Job, whole: Totals, amount: Decimal) -> Totals | None:
    """The tax that falls due with a deposit: on no more than earlier ones left, also those paid back since."""
    if not house.rules.tax_on_deposit:
        return None
    deposits = Payment.objects.filter(job=job, kind=Payment.Kind.DEPOSIT)
    earlier = [totals_from(each.frozen["advance"]) for each in deposits if each.frozen.get("advance")]
    untaxed = sum((max(row.gross, ZERO) for row in left_after(whole, earlier)), ZERO)
    return advance(whole, min(amount, untaxed), earlier, tie=house.rules.tie) if untaxed else None


@action("money.payment", *SEES_MONEY)
def pay(*, invoice: Invoice, amount: Decimal, method: str, signed: Signed) -> Payment:
    """Take a payment on an invoice, in part or whole, and give its receipt. Raises Refused for more than is left."""
    invoice = Invoice.objects.select_for_update().get(pk=invoice.pk)
    if invoice.kind != Invoice.Kind.INVOICE:
        raise Refused("Money is taken on an invoice, not on a credit note.")
    house, left = House.of(signed.shop), balance(invoice)
    amount, step = _taken(amount, method, invoice.currency), _cash_step(house, method)
    most = cash_due(left, step)
    if left <= 0:
        raise Refused("Nothing is left to pay on this invoice.", field="amount")
    if amount > most:
        raise Refused(f"Only {most:.2f} is left to pay; take at most that.", field="amount")
    _in_coins(amount, step, most)
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
    return _receive(payment, house, words=words, left=left - amount - rounding, signed=signed)


class Back(NamedTuple):
    """So much, with tax, is to be paid back: to whom it was taken from, out of the account of this job."""

    amount: Decimal
    customer: Customer
    job: Job | None


def to_pay_back(*, invoice: Invoice | None = None, job: Job | None = None) -> Back:
    """What is to be paid back on an invoice, or for a job without one; never more than was taken from one payer.

    Where several paid, it is for the one of whom most is held. Raises Refused on a credit note, and for a job whose
    invoice stands.
    """
    if invoice is not None:
        if invoice.kind != Invoice.Kind.INVOICE:
            raise Refused("Money is paid back on an invoice, not on a credit note.")
        due, payer = -balance(invoice), invoice.customer
        jobs = list(invoice.jobs.order_by("pk"))
        held = Payment.objects.filter(Q(invoice=invoice) | Q(invoice=None, job__in=jobs))
    else:
        assert job is not None
        if standing_invoice(job) is not None:
            raise Refused("This job is invoiced: pay back on its invoice.")
        due, payer, jobs = on_account(job) - agreed_total(job), job.way.board.quote.payer, [job]
        held = Payment.objects.on_account().filter(job=job)
    by_payer = held.by("customer")
    whose = max(by_payer, key=lambda key: by_payer[key], default=payer.pk)
    by_job = held.filter(customer=whose).by("job")
    return Back(
        amount=max(ZERO, min(due, by_payer.get(whose, ZERO))),
        customer=payer if whose == payer.pk else Customer.objects.get(pk=whose),
        job=max(jobs, key=lambda one: by_job.get(one.pk, ZERO), default=None),
    )


class HeldMoney(NamedTuple):
    """Money of an ended job that no invoice holds, and how much of it is to be paid back as the job stands."""

    job: Job
    amount: Decimal
    back: Decimal


def held_without_invoice() -> list[HeldMoney]:
    """Jobs whose money is not settled: the board is gone, or more was taken than is charged. Seven queries."""
    standing = Invoice.objects.standing().filter(jobs=OuterRef("job"))
    taken = Payment.objects.on_account().exclude(job=None).exclude(job__state=Job.State.OPEN).exclude(Exists(standing))
    sums = {pk: held for pk, held in taken.by("job").items() if held > 0}
    if not sums:
        return []
    due = dues(Job.objects.filter(pk__in=sums))
    jobs = Job.objects.filter(pk__in=sums).select_related("takein__board", "takein__brought_by").order_by("pk")
    return [
        HeldMoney(job, sums[job.pk], max(ZERO, due[job.pk].back))
        for job in jobs
        if job.state == Job.State.PICKED_UP or due[job.pk].amount < 0
    ]


@action("money.pay_back", *SEES_MONEY)
def refund(
    *,
    amount: Decimal,
    method: str,
    signed: Signed,
    invoice: Invoice | None = None,
    job: Job | None = None,
    reason: str = "",
) -> Payment:
    """Pay money back, with a receipt: what an invoice was paid too much, or what a job holds beyond its price.

    It goes to who paid it. Raises Refused on a credit note, and for more than there is to pay back.
    """
    house = House.of(signed.shop)
    if (invoice is None) == (job is None):
        raise Refused("Say what the money is paid back on: an invoice, or a job without one.")
    if invoice is not None:
        invoice = Invoice.objects.select_for_update().get(pk=invoice.pk)
        back, words = to_pay_back(invoice=invoice), f"Paid back on {invoice.frozen['title'].lower()} {invoice.number}"
    else:
        assert job is not None
        job = locked(job)
        back, words = to_pay_back(job=job), f"Paid back for {job.way.title}, tag {job.takein.tag}"
    due = back.amount
    amount, step = _taken(amount, method, house.profile.currency), _cash_step(house, method)
    whole = cash_due(due, step)
    if amount > whole:
        most = f"at most {whole:.2f} is to be paid back" if due > 0 else "nothing is to be paid back"
        raise Refused(f"Here {most}.", field="amount")
    _in_coins(amount, step, whole)
    paid_back = Payment(
        kind=Payment.Kind.REFUND,
        amount=-amount,
        rounding=amount - due if amount == whole else Decimal(0),
        method=method,
        customer=back.customer,
        job=back.job,
        invoice=invoice,
    )
    words = f"{words}: {reason.strip()}" if reason.strip() else words
    return _receive(paid_back, house, words=words, left=None, signed=signed)


def _taken(amount: Decimal, method: str, currency: str) -> Decimal:
    if amount <= 0:
        raise Refused("Amount must be above zero, like 50.00.", field="amount")
    if amount != round_money(amount, currency):
        raise Refused(f"Amount has more decimals than {currency} has coins for.", field="amount")
    if method not in Payment.Method.values:
        raise Refused("Say how it is paid: cash, card or bank transfer.", field="method")
    return amount


def _cash_step(house: House, method: str) -> Decimal | None:
    return house.rules.cash_step if method == Payment.Method.CASH else None


def _in_coins(amount: Decimal, step: Decimal | None, whole: Decimal) -> None:
    if step and amount % step:
        raise Refused(f"Cash comes in steps of {step:.2f} here; the whole is {whole:.2f} in cash.", field="amount")


def _receive(
    payment: Payment, house: House, *, words: str, left: Decimal | None, signed: Signed, taxed: Totals | None = None
) -> Payment:
    """Money taken or paid back, not stored yet: its number, its paper and its row; `left` is still to be paid."""
    sequence, number = next_number("receipt", day=signed.day)
    title = "Receipt" if payment.amount > 0 else "Receipt, money paid back"
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
        "tax_rows": rows_as_data(taxed.tax_rows) if taxed else [],
        "advance": taxed.as_dict() if taxed else None,
        "taken_by": signed.by.name,
    }
    pdf = keeping.made(receipt_paper.pdf, content)
    payment.document = keeping.keep("receipt", f"receipt-{number}.pdf", pdf, signed=signed, content=content)
    payment.quote = payment.job.way.board.quote if payment.job else None
    payment.received_at, payment.by, payment.frozen = signed.at, signed.by, content
    payment.series, payment.sequence, payment.number = "receipt", sequence, number
    payment.save()
    said = {"deposit": "Took a deposit", "payment": "Took a payment"}.get(payment.kind, "Paid back")
    signed.record(payment, f"{said}: {abs(payment.amount):.2f}, receipt {number}")
    return payment
