"""Rows of the ground floor."""

from __future__ import annotations

from shop.models.customers import Board, Customer, CustomerQuerySet, PeopleList, Photo
from shop.models.hands import Absence, BenchShift, CalendarAddress
from shop.models.logins import Role, User, UserManager
from shop.models.profile import (
    USUAL_PAYMENT,
    ClosedDay,
    LabourRate,
    NumberSeries,
    Overhead,
    Profile,
    TaxRate,
    TaxRateQuerySet,
)
from shop.models.records import JournalEntry, JournalQuerySet, Submission
from shop.models.row import Row

__all__ = [
    "USUAL_PAYMENT",
    "Absence",
    "BenchShift",
    "Board",
    "CalendarAddress",
    "ClosedDay",
    "Customer",
    "CustomerQuerySet",
    "JournalEntry",
    "JournalQuerySet",
    "LabourRate",
    "NumberSeries",
    "Overhead",
    "PeopleList",
    "Photo",
    "Profile",
    "Role",
    "Row",
    "Submission",
    "TaxRate",
    "TaxRateQuerySet",
    "User",
    "UserManager",
]
