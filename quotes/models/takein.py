"""A board comes in: what is damaged, what was left with it, what the customer wants."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from shop.fields import ExactField
from shop.models import Board, Customer, Photo, Row, User


class TakeIn(Row):
    """The record made when a board comes in, with its tag; the board stays on the rack until it is collected."""

    tag = models.CharField("tag", max_length=20, unique=True)
    board = models.ForeignKey(Board, on_delete=models.PROTECT, related_name="takeins")
    brought_by = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="takeins")
    payer = models.ForeignKey(
        Customer,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="pays_takeins",
        help_text="Empty: who brings it.",
    )
    received_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT)
    wants = models.TextField("what the customer wants", max_length=2000, blank=True)
    left_with_it = models.CharField("left with the board", max_length=400, blank=True)
    needed_by = models.DateField("needed by", null=True, blank=True)
    checks = models.JSONField("take-in check", default=list, help_text="List of {line, ok, reason}.")
    wet = models.BooleanField("water at the damage", default=False)
    gone_at = models.DateTimeField("left the shop", null=True, blank=True)

    class Meta:
        ordering = ["received_at", "pk"]

    def __str__(self) -> str:
        return f"{self.tag} {self.board}"

    @property
    def who_pays(self) -> Customer:
        """Customer who pays: the payer, else the one who brought the board."""
        return self.payer or self.brought_by


class Damage(Row):
    """One place on a board: its kind, where it lies on the outline, and its measures."""

    class Kind(models.TextChoices):
        """Kinds of damage."""

        DING = "ding", "open ding"
        CRACK = "crack", "crack"
        BOX = "box", "fin box"
        FIN = "fin", "fin torn off"
        PLUG = "plug", "plug"
        DENT = "dent", "pressure dent"
        BUCKLE = "buckle", "buckle"
        SNAP = "snap", "snap"
        DELAM = "delam", "delamination"
        WATER = "water", "waterlogged"
        PAINT = "paint", "paint or gloss"
        OTHER = "other", "something else"

    class Side(models.TextChoices):
        """Sides of a board."""

        DECK = "deck", "deck"
        BOTTOM = "bottom", "bottom"
        LEFT_RAIL = "left rail", "left rail"
        RIGHT_RAIL = "right rail", "right rail"
        NOSE = "nose", "nose"
        TAIL = "tail", "tail"

    SIZES = ("length", "width", "depth")

    takein = models.ForeignKey(TakeIn, on_delete=models.PROTECT, related_name="damages")
    number = models.PositiveSmallIntegerField()
    kind = models.CharField("kind", max_length=10, choices=Kind)
    side = models.CharField("where", max_length=12, choices=Side)
    from_tail_mm = ExactField("from the tail, along the stringer", places=1)
    from_stringer_mm = ExactField("from the stringer, right is plus", places=1)
    words = models.CharField("in words", max_length=400, blank=True)
    measures = models.JSONField(default=dict, blank=True, help_text="Name to what was typed, like {'length': '92 mm'}.")
    photos = models.ManyToManyField(Photo, blank=True, related_name="damages")

    class Meta:
        ordering = ["takein", "number"]
        constraints = [
            models.UniqueConstraint(fields=["takein", "number"], name="damage_number_once"),
            models.CheckConstraint(
                condition=Q(from_tail_mm__gte=0),
                name="damage_on_board",
                violation_error_message="A damage lies on the board.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.number} {self.get_kind_display()}, {self.get_side_display()}"

    @property
    def sizes(self) -> list[tuple[str, str]]:
        """Name and what was typed, in the order they are asked for; PostgreSQL keeps no order inside JSON."""
        return [(name, self.measures[name]) for name in self.SIZES if name in self.measures]
