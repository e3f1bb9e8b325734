"""A person who signs in, known by an e-mail address."""

from __future__ import annotations

from typing import Any, ClassVar

from django.contrib.auth.models import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models.functions import Lower


class UserManager(BaseUserManager["User"]):
    """Find and make users by address, whatever its case."""

    def get_by_natural_key(self, username: str | None) -> User:
        """Return the user with this address; ``User.DoesNotExist`` if none."""
        return self.get(email__iexact=username)

    def create_user(self, email: str, *, name: str = "", password: str | None = None) -> User:
        """Store a user; without a password the account opens by a sign-in link only."""
        user = self.model(email=self.normalize_email(email).strip(), name=name)
        user.set_password(password)
        user.save(using=self._db)
        return user


class User(AbstractBaseUser):
    """One person; belongs to any number of teams through Member."""

    email = models.EmailField("e-mail", max_length=254, unique=True)
    name = models.CharField(max_length=120, blank=True)
    is_active = models.BooleanField(default=True)
    # The locked secret of the second factor; empty: there is none. See pipeline/accounts.
    second_factor = models.CharField(max_length=255, blank=True, editable=False)
    # NULL: there is no second factor.
    second_factor_since = models.DateTimeField(null=True, editable=False)
    # The step of time whose code was used last: it and earlier ones count no more.
    second_factor_step = models.BigIntegerField(default=0, editable=False)

    objects = UserManager()

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = []

    class Meta:
        constraints = [models.UniqueConstraint(Lower("email"), name="user_email_unique")]

    def __str__(self) -> str:
        return self.name or self.email

    def get_full_name(self) -> str:
        """Return the name, or the address where no name is known."""
        return str(self)

    def clean(self) -> None:
        super().clean()
        self.email = type(self).objects.normalize_email(self.email).strip()

    def has_perm(self, perm: str, obj: Any = None) -> bool:
        """Rights follow from membership, never from Django's own permissions."""
        return False

    def has_module_perms(self, app_label: str) -> bool:
        return False
