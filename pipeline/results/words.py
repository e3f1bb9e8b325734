"""The figures in words: rates with their intervals, and the rule under each figure."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pipeline.results.telling import TOO_WIDE

if TYPE_CHECKING:
    # The figures load NumPy; a page without figures goes without.
    from pipeline.results.figures.conversion import Group
    from pipeline.results.figures.readings import IncidenceAt, Rate

CANT_TELL = "can't tell yet"

WHO_COUNTS = (
    "A lead enters on the day of its first held session, once, with that session's format. "
    "A lead that engaged, declined or was turned away on an earlier day is not counted."
)
WHAT_DECIDES = (
    "From that day on, the first of engaged and a close (declined, turned away) decides; on the "
    "same day engaged does. Neither: open. “No budget yet” and “gone quiet” are open, since "
    "nobody said no. A closed lead that engaged later stays closed here and is told apart as "
    "reopened."
)
CONVERSION = (
    "Conversion is engaged ÷ leads with a held session. It is “at least, so far”: the open leads "
    "may still come. The interval is Wilson's at 95%; where it is wider than 50 points the leads "
    "are too few to tell."
)
WITHIN = (
    "Within so many days of the session is the Aalen–Johansen incidence: leads are followed up to "
    "the as-of day, a close competes with engaging, and nobody still open is counted as lost. The "
    "interval is Wilson's at the effective size, at 95%. Where nobody is still open and followed "
    "for so many days it can't be told yet; where the interval is wider than 50 points the leads "
    "are too few to tell."
)
DELAYED_RETURN = (
    "The wait starts on the day of the first “no budget yet” on or after the first held session, "
    "unless the lead engaged or closed on an earlier day. It ends with the first engagement (a "
    "return) or close; on the same day with the engagement. Everybody else is still waiting on "
    "the as-of day."
)
INCIDENCE = (
    "The share that returned within so many days is the Aalen–Johansen incidence: a close "
    "competes with a return, and nobody who still waits is counted as lost. Its interval is the "
    "log-log interval at 95%. At risk are those whose wait lasted at least that many days; a lead "
    "followed only since a later day is at risk from the day after that one."
)
WHEN_TOLD = (
    "Where nobody has been followed for so many days, and some were still waiting when last seen, "
    "it can't be told yet. Where nobody or everybody has returned there is no interval; where it "
    "is wider than 50 points the leads are too few to tell."
)


def percent(share: float) -> str:
    """Return a share in whole percent; what is neither none nor all is never shown as that."""
    if 0 < share < 0.01:
        return "under 1%"
    if 0.99 < share < 1:
        return "over 99%"
    return f"{share:.0%}"


def rate_in_words(rate: Rate) -> str:
    """Return ``at least 28%, so far``."""
    if rate.estimate is None:
        return CANT_TELL
    return f"at least {percent(rate.estimate)}, so far"


def engaged_in_words(group: Group) -> str:
    """Return ``11 of 40 engaged``."""
    return f"{group.engaged} of {group.leads_with_session} engaged"


def limits_in_words(rate: Rate) -> str:
    """Return ``16% to 43%``, with a word where that hardly tells anything."""
    if rate.low is None or rate.high is None:
        return CANT_TELL
    return _limits(rate.low, rate.high)


def returned_in_words(at: IncidenceAt) -> str:
    """Return the share that had returned, ``33%``, or that it can't be told."""
    return CANT_TELL if at.estimate is None else percent(at.estimate)


def return_limits_in_words(at: IncidenceAt) -> str:
    """Return the interval of the share that had returned, or why there is none."""
    if at.estimate is None:
        return CANT_TELL
    if at.low is None or at.high is None:
        return f"{'nobody' if at.estimate == 0 else 'everybody'} so far: no interval"
    return _limits(at.low, at.high)


def _limits(low: float, high: float) -> str:
    limits = f"{percent(low)} to {percent(high)}"
    return f"{limits}: too few, {CANT_TELL}" if high - low > TOO_WIDE else limits
