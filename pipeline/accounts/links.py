"""Single-use sign-in links: they open until the password is set or three days have passed."""

from __future__ import annotations

from django.conf import settings
from django.contrib.auth.tokens import default_token_generator
from django.urls import reverse
from django.utils.encoding import force_bytes, force_str
from django.utils.http import urlsafe_base64_decode, urlsafe_base64_encode

from pipeline.locks.asking import as_user
from pipeline.teams.models import User


def sign_in_link(user: User) -> str:
    """Return the full address of a page on which ``user`` sets a password and signs in.

    The token covers the password and the last sign-in: using it, or signing in, ends it.
    """
    uid = urlsafe_base64_encode(force_bytes(user.pk))
    path = reverse("sign-in-link", args=[uid, default_token_generator.make_token(user)])
    return settings.BASE_URL + path


def may_be_handed_a_link(user: User) -> bool:
    """Tell whether an owner may see this person's link.

    Not once there is a password: with the link anybody could set another and sign in as them. Nor
    where they belong to several teams.
    """
    fresh = not user.has_usable_password() and user.last_login is None
    # Asked for that person: the team alone sees no other memberships.
    with as_user(user.pk):
        return fresh and user.memberships.count() == 1


def user_of_link(uid: str, token: str) -> User | None:
    """Return the user whom the link still lets in; ``None`` for a used, old or wrong link."""
    try:
        pk = int(force_str(urlsafe_base64_decode(uid)))
    except (ValueError, OverflowError):
        return None
    user = User.objects.filter(pk=pk, is_active=True).first()
    return user if user and default_token_generator.check_token(user, token) else None
