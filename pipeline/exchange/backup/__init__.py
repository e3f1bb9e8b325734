"""Everything in one file, and back: the database and the uploads, checked before they count."""
