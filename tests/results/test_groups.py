"""By format and by source: who stands in which group, and in what order."""

from datetime import timedelta

import pytest

from pipeline.results.figures.readings import Rate
from tests.factories import FormatFactory, LeadFactory, SessionFactory, SourceFactory

from .rows import INDEX, add_lead, figures


def test_groups_stand_in_order_of_code_points_the_nameless_last(cast):
    for name in ("fair", "Word of mouth", "école", "Zoo"):
        add_lead(cast.team, source=SourceFactory(team=cast.team, name=name))
    add_lead(cast.team, source=None)
    names = [group.name for group in figures(cast.team).sources]
    assert names == ["Word of mouth", "Zoo", "fair", "école", None]


def test_a_session_without_a_format_is_in_the_nameless_group(cast):
    SessionFactory(lead=LeadFactory(team=cast.team), day=INDEX, state="held", format=None)
    assert [group.name for group in figures(cast.team).formats] == [None]


def test_versions_of_a_format_stand_together(cast):
    for version in (1, 2):
        fmt = FormatFactory(team=cast.team, name="hour", version=version)
        add_lead(cast.team, format=fmt)
    (hour,) = figures(cast.team).formats
    assert (hour.name, hour.leads_with_session) == ("hour", 2)


def test_only_groups_with_leads_are_shown(cast):
    FormatFactory(team=cast.team, name="never held")
    SourceFactory(team=cast.team, name="nobody came")
    add_lead(
        cast.team,
        ("declined", INDEX - timedelta(days=1)),
        format=FormatFactory(team=cast.team, name="left out"),
    )
    found = figures(cast.team)
    assert (found.formats, found.sources) == ((), ())


def test_conversion_is_engaged_of_leads_with_its_wilson_interval(cast):
    """11 of 40: 0.1610802 to 0.4283496, as R's prop.test(11, 40, correct=FALSE) gives."""
    fair = SourceFactory(team=cast.team, name="fair")
    for number in range(40):
        decided = [("engaged", INDEX)] if number < 11 else []
        add_lead(cast.team, *decided, source=fair)
    (group,) = figures(cast.team).sources
    assert (group.engaged, group.leads_with_session) == (11, 40)
    assert group.conversion.estimate == 0.275
    assert group.conversion.low == pytest.approx(0.16108016247667337, abs=1e-12)
    assert group.conversion.high == pytest.approx(0.42834955806210573, abs=1e-12)
    assert group.conversion.level == 0.95


def test_where_no_lead_counts_conversion_cannot_be_told(cast):
    assert figures(cast.team).overall.conversion == Rate(None, None, None, 0.95)


def test_each_lead_is_in_one_format_and_one_source(cast):
    fair, hour = SourceFactory(team=cast.team), FormatFactory(team=cast.team, name="hour")
    for days, source in ((0, fair), (1, None), (2, fair)):
        add_lead(cast.team, ("engaged", INDEX + timedelta(days=days)), source=source, format=hour)
    add_lead(cast.team, format=FormatFactory(team=cast.team, name="half"))
    found = figures(cast.team)
    for groups in (found.formats, found.sources):
        for part in ("leads_with_session", "engaged", "open", "closed", "reopened"):
            assert sum(getattr(g, part) for g in groups) == getattr(found.overall, part)
