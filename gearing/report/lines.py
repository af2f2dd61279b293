"""Lines of a terminal, what each is for, and how they are set."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from gearing.messages.columns import wrapped

Kind = Literal["action", "answer", "look", "plain"]
_STYLES = {"action": "\x1b[1m", "look": "\x1b[33m", "label": "\x1b[36m"}
_END = "\x1b[0m"
_LABEL = 13  # columns that the questions' names take


@dataclass(frozen=True, slots=True)
class Line:
    """One line; `label` names the question where a new one begins."""

    text: str
    kind: Kind = "plain"
    label: str = ""


def printed(lines: Iterable[Line], *, width: int | None = None, colour: bool = False) -> str:
    """The lines as text, wrapped to `width` where one is given."""
    every = list(lines)
    labelled = any(line.label for line in every)
    out = []
    for line in every:
        lead = f"{line.label:{_LABEL}}" if labelled else ""
        whole = lead + line.text
        if width is not None:
            rest = " " * len(lead)
            whole = "\n".join(wrapped(whole, width, rest))
        style = _STYLES.get(line.kind, "") if colour else ""
        body = whole[len(lead) :]
        if colour and lead.strip():
            lead = f"{_STYLES['label']}{lead}{_END}"
        out.append(lead + (f"{style}{body}{_END}" if style else body))
    return "\n".join(out)
