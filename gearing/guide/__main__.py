"""Write the made tables of the guide's pages anew: `python -m gearing.guide`, in the project."""

from __future__ import annotations

from pathlib import Path

from gearing.guide import TOPICS, page

# the catalogue of messages stands in its own modules: its page is made when asked for
SHOWN_ONLY = ("messages",)


def write_pages() -> None:
    """Write each page whose made tables are kept in its file."""
    for topic in TOPICS:
        if topic.name not in SHOWN_ONLY:
            path = Path(__file__).parent / topic.file
            path.write_text(page(topic), encoding="utf-8")


if __name__ == "__main__":
    write_pages()
