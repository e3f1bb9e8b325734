"""The quarter in two minutes: what a partner reads before a meeting."""
