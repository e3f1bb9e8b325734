"""Rates of exchange that a team enters by month, and amounts converted by them in the open."""
