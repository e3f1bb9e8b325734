"""Made-up records are judged by what comes out, not by how long it took."""

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
