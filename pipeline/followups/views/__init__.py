"""Pages of what is due: the start page, a lead, follow-ups, the plan."""
