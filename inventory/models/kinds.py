"""What kinds of material, lot and movement there are, and the units they are counted in."""

from __future__ import annotations

from django.db import models


class Unit(models.TextChoices):
    """Units that stock is counted in."""

    GRAM = "g", "grams"
    MILLILITRE = "mL", "millilitres"
    METRE = "m", "metres"
    SQUARE_METRE = "m2", "square metres"
    PIECE = "piece", "pieces"


class Kind(models.TextChoices):
    """Kinds of material."""

    RESIN = "resin", "resin"
    HARDENER = "hardener", "catalyst or hardener"
    ADDITIVE = "additive", "additive"
    CLOTH = "cloth", "cloth"
    ROVING = "roving", "roving"
    FOAM = "foam", "foam"
    FILLER = "filler", "filler"
    ABRASIVE = "abrasive", "abrasive"
    TAPE = "tape", "tape and masking"
    PAINT = "paint", "paint and clear"
    SOLVENT = "solvent", "solvent"
    HARDWARE = "hardware", "fins, boxes and plugs"
    SUNDRY = "sundry", "cups, gloves and the like"
    COUNTER = "counter", "counter goods"


class Origin(models.TextChoices):
    """Origins of a lot."""

    BOUGHT = "bought", "bought"
    RECLAIMED = "reclaimed", "reclaimed in the shop"
    GIFT = "gift", "given"
    CUSTOMER = "customer", "the customer's own"
    FOUND = "found", "found at a count"
    UNCOUNTED = "uncounted", "used before it was first counted"


class MovementKind(models.TextChoices):
    """Kinds of movement."""

    RECEIVE = "receive", "received"
    USE = "use", "used"
    RETURN = "return", "back on the shelf"
    WRITE_OFF = "write_off", "written off"
    DIFFERENCE = "difference", "count difference"
    REVERSAL = "reversal", "mistake undone"
