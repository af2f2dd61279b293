"""One question answered, in the parts a page and a terminal set differently."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Answer:
    """`short` is the answer in a few words, `headline` in a sentence; the rest supports it.

    `action` is what to do in one short line, and `sure` how sure the answer is, in three words.
    """

    question: str
    short: str
    headline: str
    certainty: str = ""
    next_step: str = ""
    settled: bool = True  # false: cannot tell yet, or not answered
    action: str = ""
    sure: str = ""

    def sentence(self) -> str:
        """All of it in sentences, for those who read nothing else."""
        return " ".join(part for part in (self.headline, self.certainty, self.next_step) if part)
