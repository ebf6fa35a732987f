"""Two records of one person are made one: everything of the one that goes is the other's from then on.

What points to a customer is asked of the models themselves, hidden relations too, so that a table made later is not
forgotten. Papers that were given out are not touched: they hold the name they were made with. The record that goes is
kept and points to the one that stays, so that old addresses and the journal still lead somewhere.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.db import IntegrityError, models, transaction
from django.db.models.fields.reverse_related import ForeignObjectRel

from shop.models import Customer
from shop.people.customers import CUSTOMER_ENTRIES
from shop.platform.acts import SEES_MONEY, Refused, Signed, action, checked

CHOSEN = tuple(name for name in CUSTOMER_ENTRIES if name != "note")  # notes are not chosen: both are kept
NOTE_AT_MOST = Customer._meta.get_field("note").max_length or 0


def pointing_here() -> Iterator[tuple[type[models.Model], str]]:
    """Each model with the name of its field that holds a customer's key, links between many and many too."""
    for found in Customer._meta.get_fields(include_hidden=True):
        if isinstance(found, ForeignObjectRel) and (found.one_to_many or found.one_to_one):
            yield found.related_model, found.field.name


def why_not(kept: Customer, gone: Customer) -> str:
    """A sentence why two records must not be made one; empty where they may."""
    if kept.pk == gone.pk:
        return "This is one record already: choose the other one of the same person."
    if kept.walk_in or gone.walk_in:
        return "The entry for people who leave no name stands for many, so it cannot be made one with somebody."
    if gone.merged_into_id is not None or kept.merged_into_id is not None:
        return "One of these records was made one with another already. Open People and look for the person again."
    if kept.tax_number and gone.tax_number and _bare(kept.tax_number) != _bare(gone.tax_number):
        return "The two have different tax numbers, so they are two buyers. If one number is wrong, correct it there first."
    if len(both_notes(kept, gone)) > NOTE_AT_MOST:
        return f"Their notes together are longer than {NOTE_AT_MOST} characters: shorten one of them first."
    return ""


def _bare(number: str) -> str:
    return "".join(c for c in number.casefold() if c.isalnum())


def both_notes(kept: Customer, gone: Customer) -> str:
    """What was noted on either record, each note once."""
    return "\n".join(dict.fromkeys(filter(None, [kept.note.strip(), gone.note.strip()])))


@action("customer.merge", *SEES_MONEY)
def make_one(*, kept: Customer, gone: Customer, signed: Signed, **entries: Any) -> Customer:
    """The record that stays, with all that pointed to either, both notes, and `entries`, fields of CHOSEN.

    Raises Refused as `why_not` says, or where both stand in something that can hold one of them only.
    """
    if strangers := set(entries) - set(CHOSEN):
        raise TypeError(f"no such entries: {sorted(strangers)}")
    rows = Customer.objects.select_for_update(of=("self",)).in_bulk(sorted({kept.pk, gone.pk}))
    kept, gone = rows[kept.pk], rows[gone.pk]
    if sentence := why_not(kept, gone):
        raise Refused(sentence)
    kept.note = both_notes(kept, gone)
    for name, value in entries.items():
        setattr(kept, name, value)
    checked(kept).save()
    moved = dict(_moved(kept, gone))
    gone.merged_into = kept
    gone.save(update_fields=["merged_into"])
    details = {"gone": gone.pk, "moved": moved, "chosen": sorted(entries)}
    words = f"Made one of two records: customer {gone.pk} went into customer {kept.pk}"
    signed.record(kept, words, details=details)
    signed.record(gone, words, key="customer.merged")
    return kept


def _moved(kept: Customer, gone: Customer) -> Iterator[tuple[str, list[Any]]]:
    """Hands over the rows of each relation; gives their keys by table and field, so that it can be traced back."""
    for model, field in pointing_here():
        rows = model._base_manager.filter(**{field: gone})
        keys = list(rows.order_by("pk").values_list("pk", flat=True))
        if not keys:
            continue
        try:
            with transaction.atomic():
                rows.update(**{field: kept})
        except IntegrityError:
            what = model._meta.verbose_name
            raise Refused(f"Both stand in one {what}, which can hold one of them only: take one out first.") from None
        yield f"{model._meta.label_lower}.{field}", keys
