"""Work that time brings: one-off jobs and the rounds of each team's day, as rows."""
