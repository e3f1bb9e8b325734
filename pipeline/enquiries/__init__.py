"""Enquiries that people leave on a team's public page: each becomes a lead."""
