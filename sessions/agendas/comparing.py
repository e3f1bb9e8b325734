"""Two versions of a format side by side."""

from __future__ import annotations

from dataclasses import dataclass
from difflib import SequenceMatcher

from .draft import Draft, StepDraft


@dataclass(frozen=True)
class Pair:
    """A step before and after; ``None`` where there is none on that side."""

    before: StepDraft | None
    after: StepDraft | None

    @property
    def word(self) -> str:
        """What happened to the step, in a word."""
        if self.before is None:
            return "new"
        if self.after is None:
            return "gone"
        return "same" if self.before == self.after else "changed"

    @property
    def changes(self) -> list[str]:
        """What changed in the step, in words."""
        if self.word != "changed":
            return []
        assert self.before is not None
        assert self.after is not None
        told = []
        if self.before.minutes != self.after.minutes:
            told.append(f"{self.before.minutes} to {self.after.minutes} minutes")
        if self.before.way != self.after.way:
            told.append(f"{self.before.way} to {self.after.way}")
        if self.before.catches != self.after.catches:
            told.append(f"catches {self.before.catches} to {self.after.catches}")
        if self.before.say != self.after.say:
            told.append("other words to say")
        if self.before.prompt != self.after.prompt:
            told.append("another prompt")
        if self.before.title != self.after.title:
            told.append("another title")
        return told


def compare(before: Draft, after: Draft) -> list[Pair]:
    """Return the steps of both drafts in order, those of the same title beside each other."""
    old, new = before.steps, after.steps
    matcher = SequenceMatcher(
        None, [step.title for step in old], [step.title for step in new], autojunk=False
    )
    pairs = []
    for kind, i1, i2, j1, j2 in matcher.get_opcodes():
        if kind == "equal":
            pairs += [Pair(a, b) for a, b in zip(old[i1:i2], new[j1:j2], strict=True)]
        else:
            pairs += [Pair(step, None) for step in old[i1:i2]]
            pairs += [Pair(None, step) for step in new[j1:j2]]
    return pairs
