"""The verbs of people and boards: who brings a board, and what kind of board it is."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from typing import Any, NamedTuple

from django.core.files.base import ContentFile
from django.db import models

from shop.models import Board, Customer, Photo
from shop.people.pictures import new_name
from shop.platform.acts import EVERY_ROLE, SEES_MONEY, Refused, Signed, action, checked
from shop.text.phones import same_phone
from shop.text.writing import folded

TENTH = Decimal("0.1")  # boards are kept to a tenth of a millimetre
SIZES = ("length_mm", "width_mm", "thickness_mm", "nose_mm", "tail_mm")
CUSTOMER_ENTRIES = ("name", "kind", "phone", "email", "address", "tax_number", "discount_percent", "note")
MAY_BE_EMPTY = ("phone", "email", "address", "tax_number", "note")
BOARD_ENTRIES = ("name", "maker", "core", "resin", "skin", *SIZES, "tail_shape", "fins", "note")


@action("customer.add", *SEES_MONEY)
def add_customer(*, signed: Signed, **entries: Any) -> Customer:
    """A new customer. `entries` are fields of CUSTOMER_ENTRIES; the name must be there. Raises Refused."""
    customer = Customer(**_only(CUSTOMER_ENTRIES, entries))
    checked(customer).save()
    signed.record(customer, "Added a customer")
    return customer


@action("customer.change", *SEES_MONEY)
def change_customer(*, signed: Signed, customer: Customer, **entries: Any) -> Customer:
    """What is known of a customer, changed. Papers already given out keep what they said. Raises Refused."""
    customer = Customer.objects.select_for_update().get(pk=customer.pk)
    if customer.walk_in:
        raise Refused("This entry stands for people who leave no name; add a customer instead of changing it.")
    if customer.merged_into_id is not None:
        raise Refused("This record was made one with another of the same person: change that one.")
    changed = _lay_over(customer, _only(CUSTOMER_ENTRIES, entries))
    checked(customer).save()
    _tell_change(signed, customer, "Changed a customer", changed)
    return customer


def stands_now(customer: Customer) -> Customer:
    """The record that stands for a person, read again: a page may have been shown before two were made one."""
    return Customer.objects.select_related("merged_into").get(pk=customer.pk).current


class Completed(NamedTuple):
    """What of newly typed entries a known customer took up, and what was left because something else stands there."""

    filled: list[str]
    left: dict[str, Any]


@action("customer.change", *SEES_MONEY)
def complete_customer(*, signed: Signed, customer: Customer, country: str, **entries: Any) -> Completed:
    """What is not known of a customer yet, filled in from entries; what is known stays. Raises Refused.

    `country`: the shop's two letters, so that one phone number written in two ways is one.
    """
    customer = Customer.objects.select_for_update(of=("self",)).get(pk=stands_now(customer).pk)
    filled = [name for name in MAY_BE_EMPTY if entries.get(name) and not getattr(customer, name)]
    for name in filled:
        setattr(customer, name, entries[name])
    given = _only(CUSTOMER_ENTRIES, entries).items()
    left = {name: v for name, v in given if name not in filled and _says_otherwise(customer, name, v, country)}
    if filled:
        checked(customer).save()
    _tell_change(signed, customer, "Filled in what was not known of a customer", filled)
    return Completed(filled, left)


def _says_otherwise(customer: Customer, name: str, value: Any, country: str) -> bool:
    """Whether an entry says something, and not what is known of the customer."""
    known, column = getattr(customer, name), Customer._meta.get_field(name)
    assert isinstance(column, models.Field)
    if value in ("", None, column.get_default()) or known == value:
        return False
    if name == "phone":
        return not same_phone(known, value, country=country)
    return not isinstance(value, str) or folded(known) != folded(value)


@action("board.add", *SEES_MONEY)
def add_board(*, signed: Signed, owner: Customer, **entries: Any) -> Board:
    """A new board of a customer. `entries` are fields of BOARD_ENTRIES, sizes in mm. Raises Refused."""
    board = new_board(stands_now(owner), **entries)
    checked(board).save()
    signed.record(board, f"Added a board: {board.name}")
    return board


@action("board.change", *SEES_MONEY)
def change_board(*, signed: Signed, board: Board, **entries: Any) -> Board:
    """What is known of a board, changed; sizes in mm. Raises Refused."""
    board = Board.objects.select_for_update().get(pk=board.pk)
    changed = _lay_over(board, _board_entries(entries))
    _fits(board)
    checked(board).save()
    _tell_change(signed, board, f"Changed a board: {board.name}", changed)
    return board


@action("photo.add", *EVERY_ROLE)
def add_photos(*, signed: Signed, board: Board, pictures: list[bytes], caption: str = "") -> list[Photo]:
    """Photos of a board, each already tidied by `shop.people.pictures.tidied`. Raises Refused."""
    if not pictures:
        raise Refused("Choose a picture first.", field="pictures")
    photos = []
    for picture in pictures:
        photo = Photo(board=board, caption=caption, by=signed.by, taken_at=signed.at)
        photo.image.save(new_name(), ContentFile(picture), save=False)
        checked(photo).save()
        photos.append(photo)
    words = "Added a photo" if len(photos) == 1 else f"Added {len(photos)} photos"
    signed.record(board, f"{words} of {board.name}")
    return photos


def _only(known: tuple[str, ...], entries: dict[str, Any]) -> dict[str, Any]:
    strangers = set(entries) - set(known)
    if strangers:
        raise TypeError(f"no such entries: {sorted(strangers)}")
    return entries


def _board_entries(entries: dict[str, Any]) -> dict[str, Any]:
    entries = dict(_only(BOARD_ENTRIES, entries))
    for size in SIZES:
        if entries.get(size) is not None:
            entries[size] = Decimal(entries[size]).quantize(TENTH, ROUND_HALF_UP)
    return entries


def new_board(owner: Customer, **entries: Any) -> Board:
    """A board that is not written yet, sizes in mm. Raises Refused where its sizes do not fit each other."""
    board = Board(owner=owner, **_board_entries(entries))
    _fits(board)
    return board


def _fits(board: Board) -> None:
    """A board is widest at its width; more at nose or tail means that two boxes were mixed up."""
    for size, words in (("nose_mm", "Nose width"), ("tail_mm", "Tail width")):
        measured = getattr(board, size)
        if measured is not None and board.width_mm is not None and measured > board.width_mm:
            raise Refused(
                f"{words} must not be more than the board's width. Measure it 12 in from the end.", field=size
            )
    if board.length_mm is not None and board.width_mm is not None and board.width_mm >= board.length_mm:
        raise Refused("Width must be less than the length. Are the two mixed up?", field="width_mm")


def _lay_over(row: Any, entries: dict[str, Any]) -> list[str]:
    """Sets the entries on the row; the names of those that were different."""
    changed = [name for name, value in entries.items() if getattr(row, name) != value]
    for name in changed:
        setattr(row, name, entries[name])
    return changed


def _tell_change(signed: Signed, row: Any, words: str, changed: list[str]) -> None:
    if changed:
        signed.record(row, words, details={"changed": changed})
