"""The second lock on a team's rows: the database itself shows and takes no others."""
