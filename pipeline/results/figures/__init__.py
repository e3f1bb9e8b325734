"""What the figures are: dataclasses, how they are computed, and when they can't be told."""
