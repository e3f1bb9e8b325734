"""Calendars: free times, times offered, entries that go out, invitations that follow a session."""
