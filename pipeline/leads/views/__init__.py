"""Pages of leads: the list, entry, the facts' forms, merging."""
