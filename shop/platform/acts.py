"""What every act stands on: who may, one transaction, one writer at a time on SQLite, and refusals as sentences.

SQLite has one writer; waiting for it inside the process, in turn, is far shorter than retrying against its file
lock. PostgreSQL needs no such lock.
"""

from __future__ import annotations

import functools
import inspect
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager, nullcontext
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import Any, ParamSpec, TypeVar, cast

from django.core.exceptions import ImproperlyConfigured, PermissionDenied, ValidationError
from django.db import DEFAULT_DB_ALIAS, connections, models, transaction

from shop.models import Profile, Role, User
from shop.platform.journal import record

P = ParamSpec("P")
R = TypeVar("R")
Stored = TypeVar("Stored", bound=models.Model)

EVERY_ROLE = (Role.KEEPER, Role.COUNTER, Role.BENCH)
SEES_MONEY = (Role.KEEPER, Role.COUNTER)

_write_lock = threading.RLock()


@dataclass(frozen=True)
class Signed:
    """Who does something, and the moment at which it is recorded: handed in once, and on to every act within it.

    `key` is the journal's name of the act under way, like `quote.send`; the act itself puts it in.
    """

    by: User
    at: datetime
    key: str = ""
    _read: dict[str, Profile] = field(default_factory=dict, repr=False, compare=False)  # shared by the acts within

    @classmethod
    def in_shop(cls, shop: Profile, by: User, at: datetime) -> Signed:
        """Somebody's signature where the shop's settings are at hand already."""
        return cls(by, at, _read={"shop": shop})

    @property
    def shop(self) -> Profile:
        """The shop's settings, read at most once."""
        if "shop" not in self._read:
            self._read["shop"] = Profile.objects.get()
        return self._read["shop"]

    @property
    def day(self) -> date:
        """The shop's own day."""
        return self.shop.day_of(self.at)

    def for_act(self, key: str) -> Signed:
        """Handed on to an act within this one."""
        return replace(self, key=key)

    def may(self, *roles: str) -> None:
        """Who may: raises PermissionDenied unless the person has one of the roles and may log in."""
        if not self.by.is_active or self.by.role not in roles:
            raise PermissionDenied(f"{self.by.name} may not do this; ask the keeper.")

    def record(self, row: models.Model, words: str, *, details: dict[str, Any] | None = None, key: str = "") -> None:
        """Append to the journal, under the key of the act unless another is given: `words` is what people read."""
        record(by=self.by, verb=key or self.key, row=row, words=words, at=self.at, details=details)


class Refused(ValidationError):
    """An act said no: one or more sentences, each for a field or for the whole form."""

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


def internal(function: Callable[P, R]) -> Callable[P, R]:
    """Mark what the system does by itself, and changes more than one row: one transaction, whole or not at all."""

    @functools.wraps(function)
    def run(*args: P.args, **kwargs: P.kwargs) -> R:
        with writing():
            return function(*args, **kwargs)

    return run


def action(key: str, *roles: str) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Mark what a person does, as the journal calls it: `@action("quote.send", *SEES_MONEY)`.

    It runs in one transaction, whole or not at all, for the roles named. The function takes who and
    when as the keyword `signed`. Raises PermissionDenied for anybody else.
    """

    def mark(function: Callable[P, R]) -> Callable[P, R]:
        if "signed" not in inspect.signature(function).parameters:
            raise ImproperlyConfigured(f"{function.__name__} is somebody's act: it needs a parameter `signed`.")
        if not roles:
            raise ImproperlyConfigured(f"{function.__name__} must name the roles that may do it.")

        @functools.wraps(function)
        def run(*args: P.args, **kwargs: P.kwargs) -> R:
            signed = cast(Signed, kwargs["signed"])
            signed.may(*roles)
            own = {**kwargs, "signed": signed.for_act(key)}
            with writing():
                return function(*args, **own)  # type: ignore[arg-type]

        run.key, run.roles = key, roles  # type: ignore[attr-defined]
        return run

    return mark


def roles_of(act: Callable[..., object]) -> tuple[str, ...]:
    """The roles that may do an act, as its mark names them."""
    return cast(tuple[str, ...], act.roles)  # type: ignore[attr-defined]


def checked(row: Stored) -> Stored:
    """The row itself, once its own fields and constraints have nothing against it; otherwise raises Refused."""
    try:
        row.full_clean()
    except Refused:
        raise
    except ValidationError as problem:
        raise Refused(problem.message_dict) from None
    return row
