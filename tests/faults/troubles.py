"""What a mail server does to one letter in five before it takes it in the end."""

from __future__ import annotations

from enum import Enum


class Trouble(Enum):
    """How a try to hand a letter in goes wrong."""

    REFUSE_ADDRESS = "451 to the address"
    REFUSE_TEXT = "451 to the text"
    DELAY = "takes its time"
    CUT = "hangs up in the middle of the text"
    SILENT = "takes the letter and hangs up without a word"


KINDS = list(Trouble)


def number_of(address: str) -> int | None:
    """Return the number in ``letter-17@…``; ``None`` for any other address."""
    name, _, number = address.partition("@")[0].rpartition("-")
    return int(number) if name == "letter" and number.isdecimal() else None


def trouble(address: str, tried: int, seed: int) -> Trouble | None:
    """Return what happens at this try (0: the first one) to hand in a letter to ``address``."""
    number = number_of(address)
    if number is None or number % 5:
        return None
    # one, two or three tries go wrong, each in another way
    if tried > (number // 25 + seed) % 3:
        return None
    return KINDS[(number // 5 + tried) % len(KINDS)]
