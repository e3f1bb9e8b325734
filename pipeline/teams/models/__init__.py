"""People, teams, and what every row of a team has in common."""

from .absence import Absence, stand_ins
from .member import LETTERS, Member, Role
from .owned import Recorded, TeamOwned, TeamQuerySet
from .submission import Submission
from .team import Team
from .user import User
from .versioned import Stale, Versioned

__all__ = [
    "LETTERS",
    "Absence",
    "Member",
    "Recorded",
    "Role",
    "Stale",
    "Submission",
    "Team",
    "TeamOwned",
    "TeamQuerySet",
    "User",
    "Versioned",
    "stand_ins",
]
