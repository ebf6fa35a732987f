"""Money: deposits, invoices, payments."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django.db import models
from django.db.models import Case, ExpressionWrapper, F, OuterRef, Q, Subquery, Sum, Value, When
from django.db.models.functions import Coalesce

from inventory.models import Movement
from quotes.models.document import Document
from quotes.models.job import Job
from quotes.models.quote import Quote
from shop.fields import MoneyField, PercentField, QuantityField
from shop.models import Customer, Row, User

NOTHING = Value(Decimal(0), output_field=MoneyField())


def _money(expression: Any) -> ExpressionWrapper[Any]:
    return ExpressionWrapper(expression, output_field=MoneyField())


def _sum_of(rows: models.QuerySet[Any], owner: str, amount: Any) -> Coalesce:
    sums = rows.filter(**{owner: OuterRef("pk")}).order_by().values(owner).annotate(total=Sum(amount)).values("total")
    return Coalesce(Subquery(sums, output_field=MoneyField()), NOTHING, output_field=MoneyField())


class InvoiceQuerySet(models.QuerySet["Invoice"]):
    """Invoices and credit notes as screens ask for them."""

    def with_balance(self) -> InvoiceQuerySet:
        """Each with `credited` (below zero), `paid` (less what was paid back) and `left`, which is still to be paid.

        One that is credited altogether asks for nothing: what was paid on it lies on the job's account again.
        """
        return self.annotate(  # type: ignore[no-redef] # declared on the model
            credited=_sum_of(Invoice.objects.all(), "corrects", "gross"),
            paid=_sum_of(Payment.objects.all(), "invoice", _money(F("amount") + F("rounding"))),
            standing=_money(F("gross") + F("credited")),
            left=Case(
                When(Q(credited__lt=Decimal(0)) & Q(standing=Decimal(0)), then=_money(NOTHING - F("paid"))),
                default=_money(F("payable") + F("credited") - F("paid")),
                output_field=MoneyField(),
            ),
        )

    def standing(self) -> InvoiceQuerySet:
        """Invoices, not credit notes, that are not credited altogether."""
        return (
            self.filter(kind=Invoice.Kind.INVOICE)
            .with_balance()
            .exclude(Q(credited__lt=Decimal(0)) & Q(standing=Decimal(0)))
        )

    def unpaid(self) -> InvoiceQuerySet:
        """Invoices on which something is still to be paid, or too much was."""
        rows = self.filter(kind=Invoice.Kind.INVOICE).with_balance()
        return rows.exclude(left=Decimal(0))  # type: ignore[misc] # laid on by with_balance


class Invoice(Row):
    """An invoice or a credit note: numbered and frozen at issue, in order and without gaps."""

    class Kind(models.TextChoices):
        """Kinds of document."""

        INVOICE = "invoice", "invoice"
        CREDIT = "credit", "credit note"

    kind = models.CharField(max_length=10, choices=Kind, default=Kind.INVOICE)
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="invoices")
    series = models.CharField(max_length=50)
    sequence = models.PositiveIntegerField()
    number = models.CharField(max_length=30)
    issued_at = models.DateTimeField()
    issued_on = models.DateField()
    by = models.ForeignKey(User, on_delete=models.PROTECT)
    currency = models.CharField(max_length=3)
    jobs = models.ManyToManyField(Job, related_name="invoices")
    corrects = models.ForeignKey("self", on_delete=models.PROTECT, null=True, blank=True, related_name="corrections")
    net = MoneyField()
    tax = MoneyField()
    gross = MoneyField()
    prepaid = MoneyField(default=Decimal(0))
    rounding = MoneyField(default=Decimal(0))
    payable = MoneyField()
    frozen = models.JSONField("everything it was made from", default=dict)
    document = models.ForeignKey(Document, on_delete=models.PROTECT, related_name="+")

    objects = InvoiceQuerySet.as_manager()

    if TYPE_CHECKING:  # laid on by the queryset's with_balance
        credited: Decimal
        paid: Decimal
        standing: Decimal
        left: Decimal

    class Meta:
        ordering = ["-pk"]
        constraints = [models.UniqueConstraint(fields=["series", "sequence"], name="invoice_number_once")]

    def __str__(self) -> str:
        return f"{self.get_kind_display().capitalize()} {self.number}"

    @property
    def due_on(self) -> date | None:
        """The day it asks to be paid by; None where nothing was left to pay, and on one from before that was said."""
        due = self.frozen.get("due_on")
        return date.fromisoformat(due) if due else None


class InvoiceLineQuerySet(models.QuerySet["InvoiceLine"]):
    """Lines of invoices as billing asks for them."""

    def standing(self) -> InvoiceLineQuerySet:
        """Lines of invoices, not of credit notes, that are not credited altogether."""
        notes = InvoiceLine.objects.filter(invoice__corrects=OuterRef("invoice"), position=OuterRef("position"))
        sums = notes.order_by().values("position").annotate(total=Sum("amount")).values("total")
        credited = Coalesce(Subquery(sums, output_field=MoneyField()), NOTHING, output_field=MoneyField())
        rows = self.filter(invoice__kind=Invoice.Kind.INVOICE).annotate(left=_money(F("amount") + credited))
        return rows.filter(~Q(left=Decimal(0)) | Q(invoice__corrections__isnull=True)).distinct()


class InvoiceLine(Row):
    """One line of an invoice as it was issued."""

    invoice = models.ForeignKey(Invoice, on_delete=models.PROTECT, related_name="lines")
    position = models.PositiveSmallIntegerField()
    job = models.ForeignKey(Job, on_delete=models.PROTECT, null=True, blank=True, related_name="invoice_lines")
    words = models.CharField(max_length=400)
    quantity = QuantityField(default=Decimal(1))
    unit = models.CharField(max_length=10, default="C62", help_text="UN/ECE Recommendation 20.")
    unit_price = MoneyField()
    amount = MoneyField("amount, as the shop's prices are")
    tax_category = models.CharField(max_length=2, default="S")
    tax_percent = PercentField(default=Decimal(0))
    by_hand = models.BooleanField("a line by hand of a way", default=False)
    movements = models.ManyToManyField(Movement, related_name="invoice_lines", blank=True)

    objects = InvoiceLineQuerySet.as_manager()

    class Meta:
        ordering = ["invoice", "position"]
        constraints = [models.UniqueConstraint(fields=["invoice", "position"], name="invoice_line_once")]

    def __str__(self) -> str:
        return self.words


class PaymentQuerySet(models.QuerySet["Payment"]):
    """Payments as billing asks for them."""

    def on_account(self) -> PaymentQuerySet:
        """Money of jobs that no invoice holds by itself: deposits, and what was paid on an invoice since credited."""
        return self.filter(invoice__isnull=True)

    def total(self) -> Decimal:
        """Sum of the payments in currency, rounding in cash included."""
        return self.aggregate(total=Sum(_money(F("amount") + F("rounding"))))["total"] or Decimal(0)

    def by(self, owner: str) -> dict[int, Decimal]:
        """What was taken less what was paid back, by the key of the `owner`: job, invoice or customer. One query.

        What has no such owner is left out.
        """
        sums = self.order_by().values_list(owner).annotate(total=Sum(_money(F("amount") + F("rounding"))))
        return {key: total for key, total in sums if key is not None}


class Payment(Row):
    """Money taken or given back, with its receipt: a deposit before the invoice, or a payment on it."""

    class Method(models.TextChoices):
        """Ways to pay."""

        CASH = "cash", "cash"
        CARD = "card", "card"
        TRANSFER = "transfer", "bank transfer"

    class Kind(models.TextChoices):
        """Kinds of payment."""

        DEPOSIT = "deposit", "deposit"
        PAYMENT = "payment", "payment"
        REFUND = "refund", "paid back"

    kind = models.CharField(max_length=10, choices=Kind)
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="payments")
    job = models.ForeignKey(Job, on_delete=models.PROTECT, null=True, blank=True, related_name="payments")
    quote = models.ForeignKey(Quote, on_delete=models.PROTECT, null=True, blank=True, related_name="payments")
    invoice = models.ForeignKey(Invoice, on_delete=models.PROTECT, null=True, blank=True, related_name="payments")
    amount = MoneyField("amount, paid back is minus")
    rounding = MoneyField("settled beyond the amount", default=Decimal(0), help_text="Cash comes in whole coins.")
    method = models.CharField(max_length=10, choices=Method)
    received_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT)
    series = models.CharField(max_length=50)
    sequence = models.PositiveIntegerField()
    number = models.CharField("receipt", max_length=30)
    frozen = models.JSONField(default=dict)
    document = models.ForeignKey(Document, on_delete=models.PROTECT, null=True, related_name="+")

    objects = PaymentQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["series", "sequence"], name="receipt_number_once"),
            models.CheckConstraint(
                condition=(Q(kind="refund") & Q(amount__lt=0)) | (~Q(kind="refund") & Q(amount__gt=0)),
                name="payment_sign",
                violation_error_message="A payment is above zero; what is paid back is below zero.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.number}"

    @property
    def size(self) -> Decimal:
        """The amount as it is said beside what was done with it: taken, or paid back."""
        return abs(self.amount)

    @property
    def settled(self) -> Decimal:
        """What it takes off the debt: the amount and the cash rounding."""
        return self.amount + self.rounding
