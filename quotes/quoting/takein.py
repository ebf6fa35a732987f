"""A board comes in, and what is wrong with it is written down: the verbs of take-in and damages."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any

from quotes.models import Damage, Job, TakeIn
from shop.business.numbering import next_number
from shop.models import Board, Customer, Profile
from shop.people import customers
from shop.platform.acts import SEES_MONEY, Refused, Signed, action

# common practice, no source: looked at before a board is taken in, so that nothing is held against the shop later
TAKE_IN_CHECK = (
    "Pressed all over for soft spots",
    "Looked for water at the damage",
    "Looked for old filler and earlier repairs",
    "Fins tried in their boxes",
    "Fin screws turn",
    "Leash plug holds",
    "Leash, fins and bag: left here or taken home",
    "Photos taken",
)


def shop_day(at: datetime, profile: Profile | None = None) -> date:
    """The shop's own day at a moment. One query, none with the profile at hand."""
    return (profile or Profile.objects.get()).day_of(at)


@action("takein.add", *SEES_MONEY)
def take_in(
    *,
    brought_by: Customer,
    board: Board,
    checks: list[dict[str, Any]],
    signed: Signed,
    damages: Sequence[Damage] = (),
    photos: Sequence[bytes] = (),
    damage_photos: Sequence[Sequence[bytes]] = (),
    payer: Customer | None = None,
    wants: str = "",
    left_with_it: str = "",
    needed_by: date | None = None,
    wet: bool = False,
) -> TakeIn:
    """The board's record with its tag. Customer, board, payer and damages are rows, saved already or not yet.

    `photos` are those of the board, `damage_photos` those of each damage in their order, all tidied already.

    Refused when a line of the check is neither ticked nor explained, the board is already here, a damage does not lie
    on the board, or it is needed before today.
    """
    day = signed.day
    _check_lines(checks)
    _check_needed(needed_by, day)
    brought_by = _kept(brought_by, signed)
    payer = payer and _kept(payer, signed)
    if board.pk is None:
        owner = brought_by if board.owner_id is None else board.owner
        entries = {name: getattr(board, name) for name in customers.BOARD_ENTRIES}
        board = customers.add_board(signed=signed, owner=owner, **entries)
    elif here := TakeIn.objects.filter(board=board, gone_at__isnull=True).first():
        raise Refused(f"This board is already here, with tag {here.tag}: add to that record instead.", field="board")
    _, tag = next_number("tag", day=day)
    takein = TakeIn.objects.create(
        tag=tag,
        board=board,
        brought_by=brought_by,
        payer=None if payer == brought_by else payer,
        received_at=signed.at,
        by=signed.by,
        wants=wants,
        left_with_it=left_with_it,
        needed_by=needed_by,
        checks=checks,
        wet=wet,
    )
    for number, damage in enumerate(damages, 1):
        _put_on_board(damage, takein, number, of=f"damages.{number - 1}.")
    if photos:
        customers.add_photos(signed=signed, board=board, pictures=list(photos))
    for damage, pictures in zip(damages, damage_photos, strict=False):
        _keep_photos(damage, pictures, signed)
    signed.record(takein, f"Took in a board, tag {tag}, {len(damages)} damages")
    return takein


@action("takein.change", *SEES_MONEY)
def edit_take_in(
    *,
    takein: TakeIn,
    checks: list[dict[str, Any]],
    signed: Signed,
    wants: str = "",
    left_with_it: str = "",
    needed_by: date | None = None,
    wet: bool = False,
    payer: Customer | None = None,
) -> TakeIn:
    """The record with what was seen or said later. Refused as `take_in` is, and once the board has left."""
    takein = _here(takein)
    _check_lines(checks)
    if needed_by != takein.needed_by:
        _check_needed(needed_by, signed.day)
    takein.checks, takein.wants, takein.left_with_it = checks, wants, left_with_it
    takein.needed_by, takein.wet = needed_by, wet
    takein.payer = None if payer == takein.brought_by else payer
    takein.save()
    signed.record(takein, f"Changed the take-in of tag {takein.tag}")
    return takein


@action("damage.add", *SEES_MONEY)
def add_damage(*, takein: TakeIn, damage: Damage, signed: Signed, photos: Sequence[bytes] = ()) -> Damage:
    """One more damage with its photos, and the next number. Refused when it does not lie on the board."""
    takein = _here(takein)
    last = takein.damages.order_by("-number").values_list("number", flat=True).first() or 0
    _put_on_board(damage, takein, last + 1)
    _keep_photos(damage, photos, signed)
    signed.record(takein, f"Damage {damage.number} on tag {takein.tag}: {damage.kind}")
    return damage


@action("damage.change", *SEES_MONEY)
def edit_damage(*, damage: Damage, signed: Signed, photos: Sequence[bytes] = ()) -> Damage:
    """The damage as the row now says, `photos` added to those it has. Sent quotes keep what they said.

    Refused when it does not lie on the board.
    """
    takein = _here(damage.takein)
    _put_on_board(damage, takein, damage.number)
    _keep_photos(damage, photos, signed)
    signed.record(takein, f"Changed damage {damage.number} on tag {takein.tag}")
    return damage


@action("damage.remove", *SEES_MONEY)
def remove_damage(*, damage: Damage, signed: Signed) -> TakeIn:
    """Takes a damage off its board, where it was marked by mistake. Refused once a way is priced for it."""
    takein = _here(damage.takein)
    if damage.parts.exists():
        raise Refused(f"Damage {damage.number} is part of a quote: take it out of the ways first, or change it.")
    words = f"Took damage {damage.number} off tag {takein.tag}"
    damage.photos.clear()
    damage.delete()
    signed.record(takein, words)
    return takein


@action("takein.hand_back", *SEES_MONEY)
def hand_back(*, takein: TakeIn, signed: Signed) -> TakeIn:
    """The board goes home without work. Refused while a job on it is open or waits to be collected."""
    takein = _here(takein)
    if takein.jobs.exclude(state=Job.State.PICKED_UP).exists():
        raise Refused("There is a job on this board: finish it or stop it, then have it collected.")
    takein.gone_at = signed.at
    takein.save(update_fields=["gone_at"])
    signed.record(takein, f"Board with tag {takein.tag} went home without work")
    return takein


def _here(takein: TakeIn) -> TakeIn:
    """The record, locked. Refused once the board has left."""
    takein = TakeIn.objects.select_for_update(of=("self",)).select_related("board", "brought_by").get(pk=takein.pk)
    if takein.gone_at is not None:
        raise Refused(f"The board with tag {takein.tag} has left the shop: its record is closed.")
    return takein


def _check_lines(checks: list[dict[str, Any]]) -> None:
    """Every line is ticked or says why not. Raises Refused, with `checks.N` for line N."""
    open_lines = {
        f"checks.{number}": [f"“{check['line']}” is not ticked: tick it, or say why it was left out."]
        for number, check in enumerate(checks)
        if not check["ok"] and not str(check.get("reason", "")).strip()
    }
    if open_lines:
        raise Refused(open_lines)


def _check_needed(needed_by: date | None, day: date) -> None:
    if needed_by is not None and needed_by < day:
        raise Refused("Needed by lies in the past: give a day from today on, or leave it empty.", field="needed_by")


def _kept(customer: Customer, signed: Signed) -> Customer:
    """The customer, put into the book if new."""
    if customer.pk is not None:
        return customers.stands_now(customer)
    return customers.add_customer(
        signed=signed, **{name: getattr(customer, name) for name in customers.CUSTOMER_ENTRIES}
    )


def _keep_photos(damage: Damage, pictures: Sequence[bytes], signed: Signed) -> None:
    """Photos of the board that show this damage."""
    if pictures:
        damage.photos.add(*customers.add_photos(signed=signed, board=damage.takein.board, pictures=list(pictures)))


def _put_on_board(damage: Damage, takein: TakeIn, number: int, of: str = "") -> None:
    """The damage, stored. Refused when it does not lie on the board; `of` says which of several it is."""
    board = takein.board
    if not 0 <= damage.from_tail_mm <= board.length_mm:
        raise Refused(
            f"The damage must lie on the board, which is {board.length_mm.normalize():f} mm long; "
            f"{damage.from_tail_mm.normalize():f} mm from the tail is off it.",
            field=f"{of}from_tail",
        )
    if abs(damage.from_stringer_mm) > board.width_mm / 2:
        raise Refused(
            f"The damage must lie on the board, which is {board.width_mm.normalize():f} mm wide; "
            f"{abs(damage.from_stringer_mm).normalize():f} mm from the stringer is off it.",
            field=f"{of}from_stringer",
        )
    damage.takein, damage.number = takein, number
    damage.save()
