"""The wall price list: its rows, and each time it was printed."""

from __future__ import annotations

from django.db import models

from quotes.models.document import Document
from quotes.models.recipe import Recipe
from shop.models import Row, User

PRICE_ROWS_AT_MOST = 36  # what one sheet holds in letters that can be read from the counter


class PriceListRow(Row):
    """One line on the wall: a repair of one size class, priced by a recipe with these measures."""

    position = models.PositiveSmallIntegerField(default=0)
    repair = models.CharField("repair", max_length=80)
    size = models.CharField("size", max_length=80, blank=True)
    recipe = models.ForeignKey(Recipe, on_delete=models.PROTECT, related_name="price_rows")
    measures = models.JSONField(default=dict, help_text="Name to what was typed.")
    accepted_odd = models.JSONField("odd measures said to be right", default=list, blank=True)
    only_from = models.BooleanField("only an inspection can tell", default=False)

    class Meta:
        ordering = ["position", "pk"]

    def __str__(self) -> str:
        return f"{self.repair}, {self.size}" if self.size else self.repair


class PriceListPrint(Row):
    """One printing of the price list: the paper, and the prices it said, to tell what has moved since."""

    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT)
    prices = models.JSONField(help_text="List of {row, repair, size, board, board_words, price, only_from}.")
    document = models.ForeignKey(Document, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"price list of {self.at:%Y-%m-%d}"
