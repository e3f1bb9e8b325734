"""The fonts of everything we set: those that are installed with the project, no others."""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files

import typst

PACKAGES = ("manimgx_fonts", "manimgx_fonts_cjk")


@lru_cache(maxsize=1)
def fonts() -> typst.Fonts:
    """Return the fonts, read once; those of the machine would change the bytes."""
    return typst.Fonts(
        include_system_fonts=False, font_paths=[str(files(package)) for package in PACKAGES]
    )
