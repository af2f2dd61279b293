"""The page of a vehicle that kept its tires: a fleet's control has an earlier and a later period.

The page is written for a change of tires. What it calls old and new tires are, on a control, the
same tires before and after the day the others changed, and nothing is the tires' doing.
"""

from __future__ import annotations

import re
from functools import partial

from gearing.report.phrases import capital
from gearing.report.reading import Tree, dig, text

_GAP = "[ \N{NO-BREAK SPACE}]"
_WORDS = (
    ("what the new tires did", "a vehicle that kept its tires"),
    ("new tires against old", "later period against earlier"),
    ("the new tires turn", "the tires turn"),
    ("the new ones turn", "the tires turn"),
    ("the first bar is what the tires did", "the first bar is what changed with all else alike"),
    ("what the tires did", "what changed"),
    ("the tires make the difference", "something changed"),
    ("whether the tires changed the fuel used", "whether the fuel used changed"),
    ("on the only tires", "in the only period"),
    ("on both sets of tires", "in both periods"),
    ("on both sets", "in both periods"),
    ("on each set of tires", "in each period"),
    ("sets of tires", "periods"),
    ("set of tires", "period"),
    ("on the old tires", "in the earlier period"),
    ("on the new tires", "in the later period"),
    ("new tires'", "later period's"),
    ("old tires", "earlier period"),
    ("new tires", "later period"),
)
_RULES = [
    (re.compile(rf"\b{old.replace(' ', _GAP)}", re.IGNORECASE), new)
    for old, new in _WORDS
] + [
    (re.compile("Tires alone"), "All alike"),
    (re.compile(r"so far (\S+) on the old and (\S+) on the new\."),
     r"so far \1 in the earlier and \2 in the later."),
    (re.compile('(?<=>)Tires(?=<)|(?<="title": ")Tires(?=")'), "Period"),
]  # fmt: skip


def is_control(results: Tree) -> bool:
    """Whether the results are of a fleet's control."""
    return text(dig(results, "declared", "role")) == "control"


def without_new_tires(page: str) -> str:
    """A page that calls no tires old or new, and nothing their doing."""
    for pattern, new in _RULES:
        page = pattern.sub(partial(_like, new), page)
    return page


def _like(new: str, found: re.Match[str]) -> str:
    """The new words, with a capital where the old had one."""
    told = found.expand(new)
    return capital(told) if found[0][0].isupper() else told
