"""Words that depend on whom the page is for.

A page is written for a change of tires. Of a vehicle that kept its tires, a fleet's control, the
two periods lie before and after the day the others changed, and nothing is the tires' doing.
"""

from __future__ import annotations

from typing import Literal

Role = Literal["changed", "control"]

WORDS: dict[str, dict[Role, str]] = {
    "the old tires": {"changed": "the old tires", "control": "the earlier period"},
    "the new tires": {"changed": "the new tires", "control": "the later period"},
    "old tires": {"changed": "old tires", "control": "earlier period"},
    "new tires": {"changed": "new tires", "control": "later period"},
    "on the old tires": {"changed": "on the old tires", "control": "in the earlier period"},
    "on the new tires": {"changed": "on the new tires", "control": "in the later period"},
    "the set of tires": {"changed": "the set of tires", "control": "the period"},
    "more days on the old tires": {
        "changed": "more days on the old tires, fitted again,",
        "control": "more days from before",
    },
    "on both sets": {"changed": "on both sets of tires", "control": "in both periods"},
    "on each set": {"changed": "on each set of tires", "control": "in each period"},
    "what the new tires did": {
        "changed": "what the new tires did",
        "control": "a vehicle that kept its tires",
    },
    "the new tires turn": {"changed": "the new tires turn", "control": "the tires turn"},
}


def word(key: str, role: Role) -> str:
    """The wording of `key` for `role`.

    Raises
    ------
    KeyError
        no such word.
    """
    return WORDS[key][role]
