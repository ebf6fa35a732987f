"""Recompute every stock figure, document total and paper hash from rows; exit 1 if anything is not as it was kept."""

from __future__ import annotations

import sys
from typing import Any

from django.core.management.base import BaseCommand

import inventory.stock.books
import quotes.billing.books
from inventory.models import Movement
from quotes.models import Document, Invoice, Payment


class Command(BaseCommand):
    help = "Check the store's books and the papers' totals, hashes and numbers."

    def handle(self, *args: Any, **options: Any) -> None:
        found = [*inventory.stock.books.problems(), *quotes.billing.books.problems()]
        for sentence in found:
            self.stdout.write(sentence)
        for sentence in quotes.billing.books.old_mistakes():
            self.stdout.write(f"For the accountant, from before tax was kept by paper: {sentence}")
        counted = (
            f"{Movement.objects.count()} movements, {Invoice.objects.count()} invoices, "
            f"{Payment.objects.count()} receipts, {Document.objects.count()} papers"
        )
        said = f"{len(found)} found" if found else "The books are right: nothing found"
        self.stdout.write(f"{said} in {counted}.")
        if found:
            sys.exit(1)
