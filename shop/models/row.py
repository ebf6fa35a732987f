"""What every row of the house stands on: nothing is stored whose fields are not what they say they are."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.db import models

JUDGED_ELSEWHERE = (models.ForeignKey, models.JSONField, models.BinaryField)  # by the database; by who writes it


class Row(models.Model):
    """A row that is checked field by field as it is saved: choices, lengths, decimals, what must not be empty.

    Raises ValidationError, and stores nothing. What holds between rows is asked by `shop.platform.acts.checked`, where
    somebody typed it, and kept by the database's own constraints. Rows written in bulk are the writer's to check.
    """

    class Meta:
        abstract = True

    def save(self, *args: Any, update_fields: Iterable[str] | None = None, **kwargs: Any) -> None:
        self.clean_fields(exclude=self._not_to_check(update_fields))
        super().save(*args, update_fields=update_fields, **kwargs)

    def _not_to_check(self, update_fields: Iterable[str] | None) -> set[str]:
        """Fields that are not written now, that may be empty and are, or that others judge."""
        return {
            field.name
            for field in self._meta.fields
            if isinstance(field, JUDGED_ELSEWHERE)
            or (update_fields is not None and field.name not in update_fields)
            or (field.null and getattr(self, field.attname) is None)
        }
