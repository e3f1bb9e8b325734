"""What we gave, and what came back, within the three months."""

from __future__ import annotations

from pipeline.results.exhibits.saying import amounts, count, have, were
from pipeline.results.figures.effort import HOUR
from pipeline.results.quarter import Back, Given
from pipeline.results.review.review import Line


def gave(given: Given) -> tuple[Line, ...]:
    """Sessions, hours, and what went out."""
    if not given.held:
        lines = [Line("No session was held.", "sessions")]
    else:
        hours = f"{given.minutes / HOUR:,.1f} hours of ours"
        if given.unnoted == given.held:
            hours = "hours not noted"
        elif given.unnoted:
            hours += f", not counting {given.unnoted} without noted minutes"
        lines = [
            Line(
                f"{count(given.held, 'session')} {were(given.held)} held: {hours}.", "results-work"
            )
        ]
    if given.missed:
        lines.append(
            Line(f"{count(given.missed, 'session')} {were(given.missed)} missed.", "results-work")
        )
    if given.sent:
        on_time = f"{given.on_time:,} of them on time"
        if given.sent == 1:
            on_time = "on time" if given.on_time else "late"
        lines.append(
            Line(f"{count(given.sent, 'promised thing')} went out, {on_time}.", "results-work")
        )
    else:
        lines.append(Line("Nothing promised went out.", "deliverables"))
    return tuple(lines)


def came_back(back: Back) -> tuple[Line, ...]:
    """Engagements, returns among them, fees, and who closed or waits."""
    if not back.engaged:
        lines = [Line("Nobody engaged.", "results")]
    else:
        of_them = "" if back.engaged == back.returns == 1 else f" {back.returns:,} of them"
        returns = f",{of_them} after waiting for a budget" if back.returns else ""
        lines = [Line(f"{count(back.engaged, 'lead')} engaged{returns}.", "results-return")]
        if back.fees:
            lines.append(Line(f"They brought {amounts(back.fees)}.", "results-return"))
        if back.without_fee:
            lines.append(
                Line(
                    f"{count(back.without_fee, 'engagement')} {have(back.without_fee)} no fee "
                    "noted.",
                    "results-work",
                )
            )
    lines.append(
        Line(
            f"{count(back.closed, 'lead') if back.closed else 'No lead'} closed, and "
            f"{back.said_no_budget or 'none'} said “no budget yet”.",
            "results-return",
        )
    )
    return tuple(lines)
