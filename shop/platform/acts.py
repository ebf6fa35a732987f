"""What every verb stands on: one transaction, one writer at a time on SQLite, and refusals as sentences.

SQLite has one writer; waiting for it inside the process, in turn, is far shorter than retrying against its file
lock. PostgreSQL needs no such lock.
"""

from __future__ import annotations

import functools
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from datetime import datetime
from typing import ParamSpec, TypedDict, TypeVar

from django.core.exceptions import PermissionDenied, ValidationError
from django.db import DEFAULT_DB_ALIAS, connections, models, transaction

from shop.models import Role, User

P = ParamSpec("P")
R = TypeVar("R")
Row = TypeVar("Row", bound=models.Model)

EVERY_ROLE = (Role.KEEPER, Role.COUNTER, Role.BENCH)
SEES_MONEY = (Role.KEEPER, Role.COUNTER)

_write_lock = threading.RLock()


class Signed(TypedDict):
    """Who does it and when, where a page hands both on to one of several verbs."""

    by: User
    at: datetime


class Refused(ValidationError):
    """A verb said no: one or more sentences, each for a field or for the whole form."""

    def __init__(self, sentence: str | dict[str, list[str]], *, field: str | None = None) -> None:
        super().__init__({field: [sentence]} if field and isinstance(sentence, str) else sentence)


def _turn() -> AbstractContextManager[object]:
    """On SQLite the turn to write, waited for in the process."""
    return _write_lock if connections[DEFAULT_DB_ALIAS].vendor == "sqlite" else nullcontext()


@contextmanager
def writing() -> Iterator[None]:
    """One transaction; on SQLite after waiting in the process for the turn to write."""
    with _turn(), transaction.atomic():
        yield


def verb(function: Callable[P, R]) -> Callable[P, R]:
    """Mark a function that changes more than one row: it runs in one transaction, whole or not at all."""

    @functools.wraps(function)
    def run(*args: P.args, **kwargs: P.kwargs) -> R:
        with _turn(), transaction.atomic():
            return function(*args, **kwargs)

    return run


def may(by: User, *roles: str) -> None:
    """Who may: raises PermissionDenied unless the person has one of the roles and may log in."""
    if not by.is_active or by.role not in roles:
        raise PermissionDenied(f"{by.name} may not do this; ask the keeper.")


def checked(row: Row) -> Row:
    """The row itself, once its own fields and constraints have nothing against it; otherwise raises Refused."""
    try:
        row.full_clean()
    except Refused:
        raise
    except ValidationError as problem:
        raise Refused(problem.message_dict) from None
    return row
