"""Who changed or removed what, and when: kept by the database itself, whoever writes to it."""
