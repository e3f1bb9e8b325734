"""Pages of sessions, formats and deliverables."""
