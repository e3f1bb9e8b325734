"""The page that the crew keeps open during a session: its clock, and what is caught."""
