"""A double-entry auditor: reads papers as they were given out and knows nothing of the product's sums.

Every entry is whole cents in and out of two accounts. Tax that was accounted for with a deposit stands on `clearing`
until an invoice takes the deposit off, or it is paid back. Common practice, no source; the tax on a payment on account
falls due as it is received: Directive 2006/112/EC, article 65.
"""

from __future__ import annotations

from collections import Counter

from quotes.models import Invoice, Payment


def cents(said: str) -> int:
    whole, _, part = said.lstrip("-").partition(".")
    return (-1 if said.startswith("-") else 1) * (int(whole) * 100 + int((part + "00")[:2]))


class Auditor:
    """The accounts after some papers: cash, rounding, customer, advances, sales, tax, clearing, in cents."""

    def __init__(self) -> None:
        self.accounts: Counter[str] = Counter()
        self.on_invoice: Counter[str] = Counter()  # money on an invoice's own number
        self.off: dict[str, int] = {}  # deposits that an invoice took off
        self.open: Counter[str] = Counter()  # what of an invoice is not credited

    def move(self, debit: str, credit: str, amount: int) -> None:
        self.accounts[debit] += amount
        self.accounts[credit] -= amount

    def receipt(self, said: dict) -> None:
        sign = -1 if said["kind"] == "refund" else 1
        amount, rounding = sign * cents(said["amount"]), cents(said["rounding"])
        on = "customer" if said["invoice"] else "advances"
        self.move("cash", on, amount)
        self.move("rounding", on, rounding)
        if said["invoice"]:
            self.on_invoice[said["invoice"]] += amount + rounding
        self.move("clearing", "tax", sum(cents(row["tax"]) for row in said["tax_rows"]))

    def charge(self, said: dict) -> None:
        sums = said["totals"]
        self.move("customer", "sales", cents(sums["net"]))
        self.move("customer", "tax", cents(sums["tax"]))

    def invoice(self, said: dict) -> None:
        self.charge(said)
        number = said["number"]
        self.open[number] = cents(said["totals"]["gross"])
        self.off[number] = sum(cents(one["amount"]) for one in said["prepaid"])
        self.move("advances", "customer", self.off[number])
        self.move("tax", "clearing", cents(said["advance_tax"] or "0"))

    def credit(self, said: dict) -> None:
        self.charge(said)
        number = said["corrects"]["number"]
        self.open[number] += cents(said["totals"]["gross"])
        if not self.open[number] and said["boards"]:  # the money is the jobs' again, with the tax that stays with it
            self.move("customer", "advances", self.off[number] + self.on_invoice[number])
            self.move("clearing", "tax", cents(said["advance_tax"] or "0"))

    def read(self, papers: list[Invoice | Payment]) -> Auditor:
        for paper in papers:
            getattr(self, paper.frozen["document"])(paper.frozen)
        return self


def audited() -> Auditor:
    """The auditor after every paper there is, in the order they were made."""
    papers = [*Invoice.objects.all(), *Payment.objects.all()]
    return Auditor().read(sorted(papers, key=lambda paper: paper.document_id))
