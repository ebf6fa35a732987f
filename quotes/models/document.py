"""Papers as they were given out: bytes, hash and the content they were made from."""

from __future__ import annotations

from django.db import models

from shop.models import Row, User


class Document(Row):
    """A PDF that left the shop, written once when a quote is sent or an invoice or receipt is issued."""

    kind = models.CharField(max_length=20)
    name = models.CharField("file name", max_length=120)
    pdf = models.BinaryField()
    sha256 = models.CharField(max_length=64)
    content = models.JSONField("what it was made from", default=dict)
    made_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, null=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.name
