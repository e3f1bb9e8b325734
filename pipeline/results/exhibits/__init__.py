"""Figures as they are shown: words, drawing, table and rule, one file a figure."""
