"""What the shop knows of its materials, whom it buys them from, in what packs, and at what price from which day."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from django.utils.text import slugify

from inventory.models import Material, Movement, Pack, PackPrice, StockQuestion, Supplier
from shop.measures.money import stored
from shop.platform.acts import EVERY_ROLE, SEES_MONEY, Refused, Signed, action, checked


@action("material.save", *SEES_MONEY)
def save_material(*, material: Material, signed: Signed) -> Material:
    """Write a material, new or changed. A new one without a short name gets one from its name. Raises Refused.

    The unit that a material is counted in stays once something of it has moved or a pack of it is known.
    """
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
    signed.record(
        material, f"{'Added' if new else 'Changed'} {material}", key="material.add" if new else "material.change"
    )
    return material


def _free_key(name: str) -> str:
    """A short name that nothing has yet: laminating-resin, laminating-resin-2."""
    stem = slugify(name)[:50] or "material"
    taken = set(Material.objects.filter(key__startswith=stem).values_list("key", flat=True))
    return next(key for key in (stem, *(f"{stem}-{n}" for n in range(2, len(taken) + 3))) if key not in taken)


@action("material.retire", *SEES_MONEY)
def retire_material(*, material: Material, signed: Signed, back: bool = False) -> Material:
    """Take a material out of the lists, or bring it back. Raises Refused while some of it lies on the shelf."""
    row = Material.objects.select_for_update(no_key=True).get(pk=material.pk)
    if not back and row.lots.left().exists():
        raise Refused(f"There is still {row.name} on the shelf; use it up or write it off first.")
    row.retired_at = None if back else signed.at
    row.save(update_fields=["retired_at"])
    words = f"{'Brought back' if back else 'Retired'} {row}"
    signed.record(row, words, key="material.bring_back" if back else "material.retire")
    return row


@action("supplier.save", *SEES_MONEY)
def save_supplier(*, supplier: Supplier, signed: Signed) -> Supplier:
    """Write a supplier, new or changed. Raises Refused."""
    new = supplier.pk is None
    checked(supplier).save()
    signed.record(
        supplier, f"{'Added' if new else 'Changed'} {supplier}", key="supplier.add" if new else "supplier.change"
    )
    return supplier


@action("pack.add", *SEES_MONEY)
def add_pack(*, pack: Pack, price: Decimal | None, from_day: date, signed: Signed) -> Pack:
    """A way to buy a material, with its price without tax if that is known. The usual one takes the other's place."""
    if pack.preferred:
        Pack.objects.filter(material=pack.material, preferred=True).update(preferred=False)
    checked(pack).save()
    if price is not None:
        _add_price(pack, price, from_day)
    signed.record(pack, f"Added pack {pack.words} of {pack.material}")
    return pack


@action("pack.price", *SEES_MONEY)
def set_pack_price(*, pack: Pack, price: Decimal, from_day: date, signed: Signed) -> PackPrice:
    """What a pack costs from a day on, without tax; earlier prices are kept. Raises Refused."""
    row = _add_price(pack, price, from_day)
    signed.record(pack, f"New price of {pack.words} of {pack.material}")
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


@action("pack.say_prices", *SEES_MONEY)
def say_prices(*, said: Sequence[SaidPrice], supplier: str, from_day: date, signed: Signed) -> int:
    """Usual packs of several materials with their prices without tax, all from one supplier by name ("" is not said).

    A pack that is known by these words gets the price; any other is added and is the usual one from now on. Says how
    many prices there were. Raises Refused, and then keeps none.
    """
    packs = Pack.objects.in_use().filter(material__in=[one.material for one in said]).order_by("-preferred", "-pk")
    known = {(pack.material_id, pack.words): pack for pack in reversed(packs)}
    seller: Supplier | None = None
    for one in said:
        pack = known.get((one.material.pk, one.words))
        if pack is not None and pack.content == one.content:
            if one.price is not None:
                set_pack_price(pack=pack, price=one.price, from_day=from_day, signed=signed)
            continue
        seller = seller or _supplier_called(supplier.strip() or NOT_SAID, signed)
        new = Pack(material=one.material, supplier=seller, words=one.words, content=one.content, preferred=True)
        add_pack(pack=new, price=one.price, from_day=from_day, signed=signed)
    return sum(one.price is not None for one in said)


def _supplier_called(name: str, signed: Signed) -> Supplier:
    found = Supplier.objects.filter(name__iexact=name).first()
    return found or save_supplier(supplier=Supplier(name=name), signed=signed)


@action("pack.change", *SEES_MONEY)
def change_pack(*, pack: Pack, supplier_code: str, preferred: bool, gone: bool, signed: Signed) -> Pack:
    """Whether a pack is the usual one, whose price costing uses, or no longer sold; its deliveries stay as they are."""
    row = Pack.objects.select_for_update(of=("self",)).select_related("material").get(pk=pack.pk)
    row.supplier_code, row.preferred = supplier_code, preferred and not gone
    row.retired_at = (row.retired_at or signed.at) if gone else None
    if row.preferred:
        Pack.objects.filter(material=row.material, preferred=True).exclude(pk=row.pk).update(preferred=False)
    checked(row).save()
    signed.record(row, f"Changed pack {row.words} of {row.material}")
    return row


@action("stock.answer", *EVERY_ROLE)
def answer_question(*, question: StockQuestion, answer: str, signed: Signed) -> StockQuestion:
    """Close a question between shelf and bench with what was found out. Raises Refused when it was answered before."""
    row = StockQuestion.objects.select_for_update().get(pk=question.pk)
    if row.answered_at is not None:
        raise Refused("This question was already answered.")
    if not answer.strip():
        raise Refused("Answer is empty; say what you found out.", field="answer")
    row.answer, row.answered_at, row.answered_by = answer, signed.at, signed.by
    checked(row).save()
    signed.record(row.material, f"Answered a question on {row.material}: {answer}")
    return row


@action("stock.answer", *EVERY_ROLE)
def answer_questions(*, questions: Iterable[StockQuestion], answer: str, signed: Signed) -> int:
    """Close several with the same answer; how many. Those answered meanwhile are left. Raises Refused."""
    still_open = StockQuestion.objects.open().filter(pk__in=[one.pk for one in questions]).order_by("pk")
    return len([answer_question(question=one, answer=answer, signed=signed) for one in still_open])
