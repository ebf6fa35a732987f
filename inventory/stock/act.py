"""One act of the stock ledger while it is being written; used by `inventory.stock.ledger` alone.

The act holds its locked material, collects movements and the lots they change, and stores them together at the end.
Value leaves first in first out, or at the average of all lots of the material, which are then one pool of money.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from functools import cached_property

from django.db import connection
from django.utils import timezone
from django.utils.dateformat import format as day_words

from inventory.models import Lot, Material, Movement, MovementKind, Origin, StockQuestion
from inventory.stock import totals, valuation
from inventory.stock.prices import replacement_price
from shop.fields import columns
from shop.measures import units
from shop.measures.money import stored
from shop.platform.acts import Refused, Signed

NOTHING = Decimal(0)
WRITTEN_OF_A_LOT = ("quantity_left", "value_left", "opened_on", "good_until", "id")

# Asked by every act, so they stand ready: for Django to put them together takes longer than all that the act writes.
# What they leave out of a row is read if asked for.
MATERIAL_OF_AN_ACT = """
    SELECT id, name, unit, shelf_life_days, opened_life_days, retired_at,
           (SELECT valuation FROM shop_profile LIMIT 1) AS valuation, (SELECT timezone FROM shop_profile LIMIT 1) AS zone
    FROM inventory_material WHERE id = %s
"""
LOCKED = {"postgresql": " FOR NO KEY UPDATE OF inventory_material"}  # SQLite lets one write at a time
LOTS_LEFT = """
    SELECT id, material_id, received_on, use_by, tested_until, quantity_left, value_left, opened_on, good_until
    FROM inventory_lot WHERE material_id = %s AND quantity_left > 0
    ORDER BY good_until ASC NULLS LAST, received_on, id
"""  # as LotQuerySet.in_order_of_issue
WRITE_A_LOT = (
    "UPDATE inventory_lot SET quantity_left = %s, value_left = %s, opened_on = %s, good_until = %s WHERE id = %s"
)


def lock(materials: Iterable[Material]) -> dict[int, Material]:
    """Lock all materials that a transaction will move, at once and in one order, before any other verb is called.

    A verb of another room that moves several materials calls this first; one that moves a single material need not.
    Returns the fresh rows by key.
    """
    found = Material.objects.filter(pk__in={material.pk for material in materials}).order_by("pk")
    return {row.pk: row for row in found.select_for_update(no_key=True)}


def _reaching(lots: Iterable[Lot], quantity: Decimal) -> list[Lot]:
    """The first lots that together hold a quantity, or all of them: first in first out asks for no others."""
    found = []
    for lot in lots:
        found.append(lot)
        quantity -= lot.quantity_left
        if quantity <= 0:
            break
    return found


@dataclass
class LedgerEntry:
    """Who does what to one material, when; and what will be stored for it."""

    material: Material
    happened_at: datetime
    signed: Signed
    reason: str
    id: uuid.UUID
    movements: list[Movement] = field(default_factory=list)
    changed: dict[int, Lot] = field(default_factory=dict)
    questions: list[StockQuestion] = field(default_factory=list)

    @classmethod
    def begin(
        cls,
        material: Material,
        *,
        signed: Signed,
        happened_at: datetime | None,
        reason: str = "",
        id: uuid.UUID | None = None,
    ) -> LedgerEntry:
        """Check the times and the reason, then lock the material. Raises Refused.

        Without `happened_at` it happens as it is recorded.
        """
        happened_at = happened_at or signed.at
        if happened_at > signed.at:
            raise Refused("When it happened must not lie in the future.", field="at")
        if len(reason) > 200:
            raise Refused("Reason is too long; keep it to 200 characters.", field="reason")
        sentence = MATERIAL_OF_AN_ACT + LOCKED.get(connection.vendor, "")
        [locked] = Material.objects.raw(sentence, [material.pk])
        return cls(locked, happened_at, signed, reason, id or uuid.uuid4())

    @cached_property
    def day(self) -> date:
        """Day of the act in the shop's zone."""
        return timezone.localdate(self.happened_at)

    @property
    def averages(self) -> bool:
        """Whether the shop values stock by weighted average."""
        return self.material.valuation == "average"  # type: ignore[attr-defined, no-any-return]  # annotated by begin()

    def amount(self, quantity: Decimal) -> Decimal:
        """A quantity rounded to the step of the material's unit. Raises Refused unless above zero."""
        amount = units.to_step(quantity, self.material.unit)
        if amount <= 0:
            raise Refused("Quantity must be above zero.", field="quantity")
        return amount

    def shown(self, quantity: Decimal) -> str:
        """Text of a quantity with the material's unit."""
        return units.show(quantity, self.material.unit)

    def lot(self, pk: int) -> Lot:
        """The lot as this act has changed it so far. Raises Refused for a lot of another material."""
        lot = self.changed.get(pk) or Lot.objects.get(pk=pk)
        if lot.material_id != self.material.pk:
            raise Refused(f"This lot does not hold {self.material.name}.", field="lot")
        return lot

    def lots_left(self) -> list[Lot]:
        """All lots that hold something, in order of issue, those in date before those past it."""
        lots = Lot.objects.raw(LOTS_LEFT, [self.material.pk])
        return sorted((self.changed.get(lot.pk, lot) for lot in lots), key=lambda lot: lot.out_of_date(self.day))

    def move(
        self, lot: Lot, kind: str, quantity: Decimal, value: Decimal, reverses: Movement | None = None
    ) -> Movement:
        """Append a movement, and put what it does on its lot."""
        lot.quantity_left += quantity
        lot.value_left += value
        self.changed[lot.pk] = lot
        movement = Movement(
            lot=lot,
            material=self.material,
            kind=kind,
            quantity=quantity,
            value=value,
            happened_at=self.happened_at,
            recorded_at=self.signed.at,
            by=self.signed.by,
            reason=self.reason,
            act=self.id,
            reverses=reverses,
        )
        self.movements.append(movement)
        return movement

    def take(self, kind: str, quantity: Decimal, lots: Sequence[Lot]) -> list[Movement]:
        """Movements out of `lots`, in the order given; they must hold enough."""
        pool = {lot.pk: lot for lot in lots}
        if self.averages:
            pool = pool | {lot.pk: lot for lot in self.lots_left() if lot.pk not in pool}
        issue = valuation.issue_from_lots(
            # The order is given, so the rank stands where valuation looks last.
            [
                valuation.ShelfLot(lot.pk, lot.quantity_left, lot.value_left, None, self.day, rank)
                for rank, lot in enumerate(pool.values() if self.averages else _reaching(pool.values(), quantity))
            ],
            quantity,
            method="average" if self.averages else "fifo",
        )
        return [self.move(pool[part.lot_id], kind, -part.quantity, -part.value) for part in issue.parts]

    def take_what_happened(self, kind: str, quantity: Decimal, given: Lot | None) -> list[Movement]:
        """Movements out for what has happened, from a given lot or in order of issue; asks what must be asked."""
        lots = self.lots_left() if given is None else [self.lot(given.pk)]
        held = sum((lot.quantity_left for lot in lots), NOTHING)
        if quantity > held:
            watched = Material.objects.filter(pk=self.material.pk).watched().exists()
            where = (
                lots[0] if given else self._lot_of_the_missing(lots) if watched else self._lot_of_the_uncounted(lots)
            )
            self._book_in_the_missing(quantity, held, where, ask=watched)
            lots = lots if where in lots else [*lots, where]
        out = self.take(kind, quantity, lots)
        if kind == MovementKind.USE:
            for movement in out:
                self._open(movement)
        return out

    def take_what_is_planned(self, quantity: Decimal) -> list[Movement]:
        """Movements out of in-date lots only. Raises Refused unless they hold enough."""
        lots = self.lots_left()
        in_date = [lot for lot in lots if not lot.out_of_date(self.day)]
        held = sum((lot.quantity_left for lot in in_date), NOTHING)
        stale = sum((lot.quantity_left for lot in lots), NOTHING) - held
        if quantity > held:
            also = f"; another {self.shown(stale)} is out of date" if stale else ""
            raise Refused(
                f"The shelf holds {self.shown(held)} of {self.material.name}, not {self.shown(quantity)}{also}.",
                field="quantity",
            )
        out = self.take(MovementKind.USE, quantity, in_date)
        for movement in out:
            self._open(movement)
        return out

    def found_lot(self, origin: str = Origin.FOUND) -> Lot:
        """A new, empty lot for what was there and is of no delivery; how long it keeps is not known."""
        return Lot.objects.create(material=self.material, origin=origin, received_on=self.day)

    def put_in(self, lot: Lot, quantity: Decimal) -> Movement:
        """A count difference in: valued as the rest of its lot, or at replacement price where nothing is left."""
        if lot.quantity_left > 0:
            value = lot.value_left * quantity / lot.quantity_left
        else:
            value = self._at_replacement(quantity)
        return self.move(lot, MovementKind.DIFFERENCE, quantity, stored(value))

    def put_back_exactly(self, movement: Movement) -> Movement:
        """The reversal of a movement. Raises Refused when what came in is no longer there as it came."""
        lot = self.lot(movement.lot_id)
        if movement.quantity > 0 and not self._still_there(movement, lot):
            raise Refused(
                f"Some of the {self.shown(movement.quantity)} of {self.material.name} that came in here was used "
                "since. Undo those uses first, or count what is there."
            )
        if movement.kind == MovementKind.USE and lot.opened_on == timezone.localdate(movement.happened_at):
            others = Movement.objects.not_undone().filter(lot=lot, kind=MovementKind.USE)
            if not others.exclude(pk=movement.pk).exists():
                lot.opened_on = None
                lot.good_until = lot.work_out_good_until(self.material)
        return self.move(lot, MovementKind.REVERSAL, -movement.quantity, -movement.value, reverses=movement)

    def write(self, words: str, **details: str) -> None:
        """Store the act: its movements, what is left on the lots, its questions, and the journal's entry."""
        if self.averages:
            self._share_out()
        Movement.objects.bulk_create(self.movements)
        zone = self.material.zone or "UTC"  # type: ignore[attr-defined]  # annotated by begin()
        totals.add(self.movements, zone)
        with connection.cursor() as cursor:
            cursor.executemany(WRITE_A_LOT, [columns(lot, WRITTEN_OF_A_LOT) for lot in self.changed.values()])
        if self.questions:
            StockQuestion.objects.bulk_create(self.questions)
        details["act"] = str(self.id)
        self.signed.record(self.material, words, details=details)

    def _at_replacement(self, quantity: Decimal) -> Decimal:
        price = replacement_price(self.material, self.day)
        return price.per_unit * quantity if price else NOTHING

    def _lot_of_the_missing(self, lots: Sequence[Lot]) -> Lot:
        """The last delivery, while in date, for it most likely held more than was booked; otherwise a new lot."""
        last = self.material.lots.order_by("-pk").first()
        if last is not None and not last.out_of_date(self.day):
            return next((lot for lot in lots if lot.pk == last.pk), last)
        return self.found_lot()

    def _lot_of_the_uncounted(self, lots: Sequence[Lot]) -> Lot:
        """What nobody has counted comes from a lot that says so, so that using it makes it no more counted."""
        last = self.material.lots.filter(origin=Origin.UNCOUNTED).order_by("-pk").first()
        if last is None or last.out_of_date(self.day):
            return self.found_lot(Origin.UNCOUNTED)
        return next((lot for lot in lots if lot.pk == last.pk), last)

    def _book_in_the_missing(self, quantity: Decimal, held: Decimal, lot: Lot, *, ask: bool) -> None:
        """At replacement price, so that what used it carries its true cost."""
        missing = quantity - held
        found = self.move(lot, MovementKind.DIFFERENCE, missing, stored(self._at_replacement(missing)))
        if not ask:
            return
        self._ask(
            found,
            f"{self.shown(quantity)} of {self.material.name} went out, but the shelf held {self._only(held)}. "
            f"Where did {self.shown(missing)} come from?",
        )

    def _only(self, held: Decimal) -> str:
        return f"only {self.shown(held)}" if held else "none"

    def _open(self, movement: Movement) -> None:
        """A use opens its lot; a use past the date is asked about."""
        lot = movement.lot
        if lot.good_until is not None and lot.out_of_date(self.day):
            self._ask(
                movement,
                f"{self.shown(-movement.quantity)} of {self.material.name} was used past its date, "
                f"{day_words(lot.good_until, 'j M Y')}. Was it tested first?",
            )
        if lot.opened_on is None:
            lot.opened_on = self.day
            lot.good_until = lot.work_out_good_until(self.material)

    def _ask(self, movement: Movement, words: str) -> None:
        self.questions.append(
            StockQuestion(material=self.material, movement=movement, words=words[:400], asked_at=self.signed.at)
        )

    def _still_there(self, movement: Movement, lot: Lot) -> bool:
        if lot.quantity_left < movement.quantity:
            return False
        if not self.averages:
            left = lot.quantity_left - movement.quantity, lot.value_left - movement.value
        else:
            outs = Movement.objects.not_undone().filter(material=self.material, quantity__lt=0, pk__gt=movement.pk)
            if movement.kind == MovementKind.RECEIVE and outs.exists():
                return False
            lots = self._pool()
            left = (
                sum((one.quantity_left for one in lots), -movement.quantity),
                sum((one.value_left for one in lots), -movement.value),
            )
        return left[1] >= 0 and (left[0] > 0 or left[1] == 0)

    def _pool(self) -> list[Lot]:
        stored_lots = {lot.pk: lot for lot in self.material.lots.left()}
        return list((stored_lots | self.changed).values())

    def _share_out(self) -> None:
        """What came in, went out or back under the average: each lot is worth its part of the pool."""
        lots = {lot.pk: lot for lot in self._pool()}
        value = sum((lot.value_left for lot in lots.values()), NOTHING)
        worth = valuation.averaged({pk: lot.quantity_left for pk, lot in lots.items()}, value)
        for pk, lot in lots.items():
            if lot.value_left != worth[pk]:
                lot.value_left = worth[pk]
                self.changed[pk] = lot
