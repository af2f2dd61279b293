"""Words that depend on whom the page is for.

A page is written for a change of tires. Of a vehicle that kept its tires, a fleet's control, the
two periods lie before and after the day the others changed, and nothing is the tires' doing.
"""

from __future__ import annotations

from typing import Literal

Role = Literal["changed", "control"]

# of a control; a vehicle whose tires changed has the key itself, but for what stands below
_CONTROL = {
    "the old tires": "the earlier period",
    "the new tires": "the later period",
    "old tires": "earlier period",
    "new tires": "later period",
    "on the old tires": "in the earlier period",
    "on the new tires": "in the later period",
    "the set of tires": "the period",
    "more days on the old tires": "more days from before",
    "on both sets": "in both periods",
    "on each set": "in each period",
    "what the new tires did": "a vehicle that kept its tires",
    "the new tires turn": "the tires turn",
    "new tires against old": "later period against earlier",
    "Tires": "Period",
    "set of tires": "period",
    "the tires alone": "like for like",
    "the tires changed the fuel used": "the fuel used changed",
    "the tires save anything": "anything is saved",
}
_CHANGED = {
    "more days on the old tires": "more days on the old tires, fitted again,",
    "on both sets": "on both sets of tires",
    "on each set": "on each set of tires",
}


def word(key: str, role: Role) -> str:
    """The wording of `key` for `role`.

    Raises
    ------
    KeyError
        no such word.
    """
    control = _CONTROL[key]
    return control if role == "control" else _CHANGED.get(key, key)
