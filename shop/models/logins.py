"""Who works here, and what each may do."""

from __future__ import annotations

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models


class Role(models.TextChoices):
    """Roles of the people who log in."""

    KEEPER = "keeper", "Keeper: everything, settings and money included"
    COUNTER = "counter", "Counter: quotes, jobs and invoices"
    BENCH = "bench", "Bench: jobs and real use, no prices"


class UserManager(BaseUserManager["User"]):
    """Logins, and how one is made."""

    def create_user(self, username: str, password: str, *, name: str, role: str) -> User:
        """A login. Its name is kept in small letters: a phone's large first letter must not lock anybody out."""
        user = self.model(username=username.strip().lower(), name=name.strip(), role=role)
        user.set_password(password)
        user.full_clean()
        user.save(using=self._db)
        return user


class User(AbstractBaseUser):
    """Someone who works in the shop and logs in; written at set-up and by the keeper."""

    username = models.CharField("login name", max_length=60, unique=True)
    name = models.CharField("name", max_length=120)
    role = models.CharField("role", max_length=10, choices=Role)
    is_active = models.BooleanField("may log in", default=True)

    USERNAME_FIELD = "username"
    REQUIRED_FIELDS = ["name", "role"]
    objects = UserManager()

    def __str__(self) -> str:
        return self.name

    @property
    def is_keeper(self) -> bool:
        """Whether the person may change settings and money."""
        return self.role == Role.KEEPER

    @property
    def sees_money(self) -> bool:
        """Whether the person may see prices and costs."""
        return self.role in (Role.KEEPER, Role.COUNTER)
