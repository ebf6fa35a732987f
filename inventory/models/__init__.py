"""Rows of the store."""

from __future__ import annotations

from inventory.models.counting import Container, Count, CountLine, ShelfTest, Weighing
from inventory.models.delivery import Delivery, PriceList
from inventory.models.kinds import Kind, MovementKind, Origin, Unit
from inventory.models.lots import Lot, LotQuerySet
from inventory.models.materials import (
    Material,
    MaterialQuerySet,
    Pack,
    PackPrice,
    PackPriceQuerySet,
    PackQuerySet,
    Supplier,
)
from inventory.models.movements import Movement, MovementQuerySet, StockQuestion, StockQuestionQuerySet
from inventory.models.planning import BuyingRules, Order, Reservation
from inventory.models.safety import DataSheet, Safety, StoragePlace
from inventory.models.totals import DayTotal, WeekUse

__all__ = [
    "BuyingRules",
    "Container",
    "Count",
    "CountLine",
    "DataSheet",
    "DayTotal",
    "Delivery",
    "Kind",
    "Lot",
    "LotQuerySet",
    "Material",
    "MaterialQuerySet",
    "Movement",
    "MovementKind",
    "MovementQuerySet",
    "Order",
    "Origin",
    "Pack",
    "PackPrice",
    "PackPriceQuerySet",
    "PackQuerySet",
    "PriceList",
    "Reservation",
    "Safety",
    "ShelfTest",
    "StockQuestion",
    "StockQuestionQuerySet",
    "StoragePlace",
    "Supplier",
    "Unit",
    "WeekUse",
    "Weighing",
]
