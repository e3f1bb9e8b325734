"""What the database is asked: one aggregate a figure, one file a question."""
