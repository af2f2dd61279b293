"""The guide: one Markdown page a topic, shown by `gearing guide TOPIC`, readable where it stands.

What can be made from the program's own tables is made from them (`gearing.guide.tables`), between
two comment lines of the page, and a test compares it with the page as it stands.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from difflib import get_close_matches
from importlib import resources


@dataclass(frozen=True, slots=True)
class Topic:
    """A page of the guide and what it is about, in a line."""

    name: str
    summary: str

    @property
    def file(self) -> str:
        """The name of its page in this folder."""
        return f"{self.name}.md"


TOPICS = (
    Topic("evidence", "what to log, and which answer each kind of evidence carries"),
    Topic("study-file", "every key of the study file and of a fleet file"),
    Topic("channels", "what logs may carry, and by which names it is known"),
    Topic("messages", "the codes of warnings and of what is set aside, and what to do"),
    Topic("methods", "how the answers are found, and how well that was measured to work"),
    Topic("results", "the output folder, and the keys of results.json"),
    Topic("cluster", "one run on many machines"),
    Topic("nomenclature", "the symbols and names of the formulas, with their units"),
)

_MADE = re.compile(r"(<!-- made: ([a-z-]+) -->\n).*?(<!-- end -->)", re.DOTALL)


def page(topic: Topic) -> str:
    """A topic's page as it stands in this folder, its made tables made anew."""
    return with_tables(source(topic))


def source(topic: Topic) -> str:
    """A topic's page as it stands in this folder."""
    return (resources.files(__package__) / topic.file).read_text(encoding="utf-8")


def with_tables(text: str) -> str:
    """A page with all between `<!-- made: NAME -->` and `<!-- end -->` made anew.

    Raises
    ------
    KeyError
        no table of that name.
    """
    from gearing.guide.tables import TABLES

    return _MADE.sub(lambda block: block[1] + "\n" + TABLES[block[2]]() + "\n" + block[3], text)


def find_topic(name: str) -> Topic | None:
    """The topic of that name; None where there is none."""
    return next((topic for topic in TOPICS if topic.name == name), None)


def nearest_topic(name: str) -> str | None:
    """The topic's name most like `name`; None where none is much like it."""
    folded = name.lower().replace("_", "-").replace(" ", "-")
    close = get_close_matches(folded, [topic.name for topic in TOPICS], n=1)
    return close[0] if close else None


def topic_list() -> str:
    """All topics, a line each."""
    width = max(len(topic.name) for topic in TOPICS)
    return "\n".join(f"{topic.name:<{width}}  {topic.summary}" for topic in TOPICS)
