"""What the server says when it stands: where it is, and how to sign in to the demo."""

from __future__ import annotations

from django.conf import settings

from pipeline.teams.models import User

# The owner of the demo's teams. Anybody may know this password: the demo is for trying out.
DEMO_ADDRESS = "demo@pipeline.example"
DEMO_PASSWORD = "free-hours-well-kept"


def welcome() -> list[str]:
    """Return the lines to print: the address and, where the demo's owner is, the sign-in."""
    lines = [f"Open {settings.BASE_URL}/"]
    demo = User.objects.filter(email=DEMO_ADDRESS, is_active=True).first()
    if demo and demo.check_password(DEMO_PASSWORD):
        lines.append(f"Sign in to the demo as {DEMO_ADDRESS} with the password {DEMO_PASSWORD}")
    elif not User.objects.exists():
        lines.append("Nobody can sign in yet: manage.py create_team makes a team and its owner.")
    return lines
