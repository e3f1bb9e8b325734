"""Time: now, local days, working days and holidays. Nothing else reads the clock."""
