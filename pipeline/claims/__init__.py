"""Rows that are due: claimed by one worker at a time, tried again, given up in the open."""
