"""Forms of leads, of the facts about them, and of the list's filters."""
