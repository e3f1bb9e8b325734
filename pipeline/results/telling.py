"""When a share is told: the one limit that figures and words have in common."""

# A wider interval leaves more than half of all shares possible.
TOO_WIDE = 0.5
