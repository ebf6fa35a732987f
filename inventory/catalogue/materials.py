"""What the shop knows of its materials, whom it buys them from, in what packs, and at what price from which day."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import NamedTuple

from django.utils.text import slugify

from inventory.models import Material, Movement, Pack, PackPrice, StockQuestion, Supplier
from shop.measures.money import stored
from shop.models import User
from shop.platform import journal
from shop.platform.acts import EVERY_ROLE, SEES_MONEY, Refused, checked, may, verb


@verb
def save_material(*, material: Material, by: User, at: datetime) -> Material:
    """Write a material, new or changed. A new one without a short name gets one from its name. Raises Refused.

    The unit that a material is counted in stays once something of it has moved or a pack of it is known.
    """
    may(by, *SEES_MONEY)
    new = material.pk is None
    if new:
        material.key = material.key or _free_key(material.name)
    else:
        before = Material.objects.select_for_update(no_key=True).get(pk=material.pk)
        if before.key != material.key:
            raise Refused("The short name stays: recipes ask for the material by it.", field="key")
        counted = Movement.objects.filter(material=material).exists() or material.packs.exists()
        if before.unit != material.unit and counted:
            raise Refused(
                f"It stays counted in {before.get_unit_display()}: packs and movements of it are.", field="unit"
            )
    checked(material).save()
    _record(
        by, "material.add" if new else "material.change", material, f"{'Added' if new else 'Changed'} {material}", at
    )
    return material


def _free_key(name: str) -> str:
    """A short name that nothing has yet: laminating-resin, laminating-resin-2."""
    stem = slugify(name)[:50] or "material"
    taken = set(Material.objects.filter(key__startswith=stem).values_list("key", flat=True))
    return next(key for key in (stem, *(f"{stem}-{n}" for n in range(2, len(taken) + 3))) if key not in taken)


@verb
def retire_material(*, material: Material, by: User, at: datetime, back: bool = False) -> Material:
    """Take a material out of the lists, or bring it back. Raises Refused while some of it lies on the shelf."""
    may(by, *SEES_MONEY)
    row = Material.objects.select_for_update(no_key=True).get(pk=material.pk)
    if not back and row.lots.left().exists():
        raise Refused(f"There is still {row.name} on the shelf; use it up or write it off first.")
    row.retired_at = None if back else at
    row.save(update_fields=["retired_at"])
    words = f"{'Brought back' if back else 'Retired'} {row}"
    _record(by, "material.bring_back" if back else "material.retire", row, words, at)
    return row


@verb
def save_supplier(*, supplier: Supplier, by: User, at: datetime) -> Supplier:
    """Write a supplier, new or changed. Raises Refused."""
    may(by, *SEES_MONEY)
    new = supplier.pk is None
    checked(supplier).save()
    _record(
        by, "supplier.add" if new else "supplier.change", supplier, f"{'Added' if new else 'Changed'} {supplier}", at
    )
    return supplier


@verb
def add_pack(*, pack: Pack, price: Decimal | None, from_day: date, by: User, at: datetime) -> Pack:
    """A way to buy a material, with its price without tax if that is known. The usual one takes the other's place."""
    may(by, *SEES_MONEY)
    if pack.preferred:
        Pack.objects.filter(material=pack.material, preferred=True).update(preferred=False)
    checked(pack).save()
    if price is not None:
        _add_price(pack, price, from_day)
    _record(by, "pack.add", pack, f"Added pack {pack.words} of {pack.material}", at)
    return pack


@verb
def set_pack_price(*, pack: Pack, price: Decimal, from_day: date, by: User, at: datetime) -> PackPrice:
    """What a pack costs from a day on, without tax; earlier prices are kept. Raises Refused."""
    may(by, *SEES_MONEY)
    row = _add_price(pack, price, from_day)
    _record(by, "pack.price", pack, f"New price of {pack.words} of {pack.material}", at)
    return row


def _add_price(pack: Pack, price: Decimal, from_day: date) -> PackPrice:
    row = PackPrice(pack=pack, price=stored(price), from_day=from_day)
    checked(row).save()
    return row


NOT_SAID = "not said yet"  # whom a pack is bought from, until somebody says so


class SaidPrice(NamedTuple):
    """A usual pack of a material as it was typed, what it holds in the material's unit, and its price if one was."""

    material: Material
    words: str
    content: Decimal
    price: Decimal | None


@verb
def say_prices(*, said: Sequence[SaidPrice], supplier: str, from_day: date, by: User, at: datetime) -> int:
    """Usual packs of several materials with their prices without tax, all from one supplier by name ("" is not said).

    A pack that is known by these words gets the price; any other is added and is the usual one from now on. Says how
    many prices there were. Raises Refused, and then keeps none.
    """
    may(by, *SEES_MONEY)
    packs = Pack.objects.in_use().filter(material__in=[one.material for one in said]).order_by("-preferred", "-pk")
    known = {(pack.material_id, pack.words): pack for pack in reversed(packs)}
    seller: Supplier | None = None
    for one in said:
        pack = known.get((one.material.pk, one.words))
        if pack is not None and pack.content == one.content:
            if one.price is not None:
                set_pack_price(pack=pack, price=one.price, from_day=from_day, by=by, at=at)
            continue
        seller = seller or _supplier_called(supplier.strip() or NOT_SAID, by, at)
        new = Pack(material=one.material, supplier=seller, words=one.words, content=one.content, preferred=True)
        add_pack(pack=new, price=one.price, from_day=from_day, by=by, at=at)
    return sum(one.price is not None for one in said)


def _supplier_called(name: str, by: User, at: datetime) -> Supplier:
    found = Supplier.objects.filter(name__iexact=name).first()
    return found or save_supplier(supplier=Supplier(name=name), by=by, at=at)


@verb
def change_pack(*, pack: Pack, supplier_code: str, preferred: bool, gone: bool, by: User, at: datetime) -> Pack:
    """Whether a pack is the usual one, whose price costing uses, or no longer sold; its deliveries stay as they are."""
    may(by, *SEES_MONEY)
    row = Pack.objects.select_for_update(of=("self",)).select_related("material").get(pk=pack.pk)
    row.supplier_code, row.preferred = supplier_code, preferred and not gone
    row.retired_at = (row.retired_at or at) if gone else None
    if row.preferred:
        Pack.objects.filter(material=row.material, preferred=True).exclude(pk=row.pk).update(preferred=False)
    checked(row).save()
    _record(by, "pack.change", row, f"Changed pack {row.words} of {row.material}", at)
    return row


@verb
def answer_question(*, question: StockQuestion, answer: str, by: User, at: datetime) -> StockQuestion:
    """Close a question between shelf and bench with what was found out. Raises Refused when it was answered before."""
    may(by, *EVERY_ROLE)
    row = StockQuestion.objects.select_for_update().get(pk=question.pk)
    if row.answered_at is not None:
        raise Refused("This question was already answered.")
    if not answer.strip():
        raise Refused("Answer is empty; say what you found out.", field="answer")
    row.answer, row.answered_at, row.answered_by = answer, at, by
    checked(row).save()
    _record(by, "stock.answer", row.material, f"Answered a question on {row.material}: {answer}", at)
    return row


@verb
def answer_questions(*, questions: Iterable[StockQuestion], answer: str, by: User, at: datetime) -> int:
    """Close several with the same answer; how many. Those answered meanwhile are left. Raises Refused."""
    may(by, *EVERY_ROLE)
    still_open = StockQuestion.objects.open().filter(pk__in=[one.pk for one in questions]).order_by("pk")
    return len([answer_question(question=one, answer=answer, by=by, at=at) for one in still_open])


def _record(by: User, verb: str, row: Material | Supplier | Pack, words: str, at: datetime) -> None:
    journal.record(by=by, verb=verb, row=row, words=words, at=at)
