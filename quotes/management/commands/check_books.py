"""Recompute every stock figure, document total and paper hash from rows; exit 1 if anything is not as it was kept."""

from __future__ import annotations

import sys
from typing import Any

from django.core.management.base import BaseCommand

import inventory.books
import quotes.billing.books


class Command(BaseCommand):
    help = "Check the store's books and the papers' totals, hashes and numbers."

    def handle(self, *args: Any, **options: Any) -> None:
        found = [*inventory.books.problems(), *quotes.billing.books.problems()]
        for sentence in found:
            self.stdout.write(sentence)
        self.stdout.write(f"{len(found)} found." if found else "The books are right: nothing found.")
        if found:
            sys.exit(1)
