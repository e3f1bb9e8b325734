"""Formats as a team edits them: drafts, versions, comparison."""
