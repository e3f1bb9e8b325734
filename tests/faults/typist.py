"""People who log leads all day, and what they were told was stored."""

from __future__ import annotations

import random
import threading
import urllib.error

from .browser import GONE, Browser
from .ledger import Arrival, Ledger

FORM = "/t/faults/leads/new/"


class Typist(threading.Thread):
    """Logs one lead after the other; posts again what nobody answered, or gives it up."""

    def __init__(self, name: str, url: str, seed: int) -> None:
        super().__init__(name=name, daemon=True)
        self.acknowledged: list[str] = []
        # Set while a form is on its way.
        self.posting = threading.Event()
        self._browser = Browser(url)
        self._browser.sign_in()
        self._chance = random.Random(seed)
        self._ended = threading.Event()

    def run(self) -> None:
        number = 0
        while not self._ended.is_set():
            number += 1
            self._log(f"{self.name} {number}")

    def end(self) -> None:
        """Finish the lead at hand."""
        self._ended.set()
        self.join()

    def _log(self, organisation: str) -> None:
        fields: dict[str, str] = {}
        while not fields and not self._ended.is_set():
            try:
                fields = self._browser.form(FORM)
            except (*GONE, urllib.error.HTTPError):
                self._ended.wait(0.05)
        fields |= {"organisation": organisation, "anyway": "1"}
        persists = self._chance.random() < 0.7
        while not self._ended.is_set():
            self.posting.set()
            try:
                if self._browser.post(FORM, fields) == 302:
                    self.acknowledged.append(organisation)
                    return
            except GONE:
                pass
            finally:
                self.posting.clear()
            if not persists:
                return
            self._ended.wait(0.05)


def into(ledger: Ledger, typists: list[Typist], stored: list[str]) -> None:
    """Count forms as a ledger counts letters: acknowledged is promised, stored is arrived."""
    for typist in typists:
        ledger.promised.update(typist.acknowledged)
    ledger.arrived += [Arrival(organisation, organisation) for organisation in stored]
