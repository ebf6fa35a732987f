"""What was done, by whom, and which form was already taken."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from shop.models.customers import Customer
from shop.models.logins import User
from shop.models.row import Row


def _about(about: str) -> Q:
    """Entries about a kind or a row; of a customer also those about the records that were made one with it."""
    kind, colon, key = about.partition(":")
    if not colon:
        return Q(about__startswith=f"{kind}:")
    if kind != Customer._meta.label_lower or not (key.isascii() and key.isdigit() and len(key) < 19):
        return Q(about=about)
    merged = Customer.objects.filter(merged_into=int(key)).values_list("pk", flat=True)
    return Q(about__in=[about, *(f"{kind}:{pk}" for pk in merged)])


class JournalQuerySet(models.QuerySet["JournalEntry"]):
    """Journal entries as the page asks for them."""

    def found(self, *, words: str = "", about: str = "", person: str = "") -> JournalQuerySet:
        """Entries that hold the words, about a row (`shop.board:7`) or a kind (`shop.board`), by a person's key.

        What is empty, or cannot be, does not narrow.
        """
        found = self
        if words:
            found = found.filter(words__icontains=words)
        if about:
            found = found.filter(_about(about))
        if person.isascii() and person.isdigit() and len(person) < 19:
            found = found.filter(by=int(person))
        return found


class JournalEntry(Row):
    """Who did what, and when: appended inside each verb's transaction, never changed."""

    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, null=True)
    verb = models.CharField(max_length=60)
    about = models.CharField(max_length=60, help_text="Kind and key of the row, like quotes.job:12.")
    words = models.CharField(max_length=400)
    details = models.JSONField(default=dict)

    objects = JournalQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]
        indexes = [models.Index(fields=["about"])]

    def __str__(self) -> str:
        return self.words


class Submission(models.Model):
    """A form that was sent: the same key again gives the first answer instead of a second record."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, null=True)
    key = models.UUIDField(unique=True)
    body_hash = models.CharField(max_length=64)
    answer = models.CharField("where the first answer led", max_length=300)
    at = models.DateTimeField(auto_now_add=True)

    def __str__(self) -> str:
        return str(self.key)
