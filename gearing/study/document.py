"""The study file as text: parsed as TOML, with the line each key stands on."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from gearing.logs.endings import is_log
from gearing.messages import GearingError, Message, UserText, message, problem_of

Key = str | int
LARGEST_BYTES = 2_000_000


@dataclass(frozen=True, slots=True)
class Document:
    """A parsed TOML file and where its keys stand."""

    path: Path
    data: Mapping[str, object]
    lines: Mapping[tuple[Key, ...], int]

    def line(self, where: tuple[Key, ...]) -> int | None:
        """Line of a key, counted from 1; of the table around it where it is not there itself."""
        for length in range(len(where), 0, -1):
            found = self.lines.get(where[:length])
            if found is not None:
                return found
        return None


def read_document(path: Path) -> Document:
    """Read and parse a TOML file.

    Raises
    ------
    GearingError
        the file cannot be read, is not UTF-8 text, or is not TOML; with line and remedy.
    """
    text = _read_text(path)
    try:
        data = tomllib.loads(text)
    except RecursionError:
        raise _error(path, message("study-syntax/deep")) from None
    except ValueError as error:  # TOMLDecodeError, and numbers of thousands of digits
        raise _syntax_error(path, text, str(error)) from None
    return Document(path, data, key_lines(text))


def _error(path: Path, told: Message, line: int | None = None) -> GearingError:
    lines = None if line is None else (line, line)
    return GearingError((problem_of(told, file=str(path), lines=lines),))


def _read_text(path: Path) -> str:
    try:
        if path.is_dir():
            raise _error(path, message("study-unreadable/folder"))
        if path.stat().st_size > LARGEST_BYTES:
            raise _error(path, message("study-unreadable/large", bytes=path.stat().st_size))
        with path.open("rb") as handle:
            content = handle.read(LARGEST_BYTES + 1)  # a device has no size, and no end
    except FileNotFoundError:
        raise _error(path, message("study-unreadable/missing")) from None
    except (OSError, ValueError) as error:
        words = UserText(getattr(error, "strerror", None) or str(error), "system")
        raise _error(path, message("study-unreadable", system=words)) from None
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        raise _error(path, message("study-unreadable/encoding"), line) from None
    return text.replace("\r\n", "\n")


# what tomllib's words mean to somebody who never heard of TOML
_HINTS = (
    (r"Unescaped '\\\\'|hex value|escape", message("toml-hint/paths")),
    ("Cannot overwrite|twice|already", message("toml-hint/twice")),
    ("Invalid value", message("toml-hint/quotes", example=UserText('mass = "26500 lb"'))),
    ("Expected '='", message("toml-hint/equals")),
    ("Invalid statement", message("toml-hint/line")),
    ("Unclosed|Unterminated|Illegal character|Expected newline", message("toml-hint/closing")),
)


def _syntax_error(path: Path, text: str, words: str) -> GearingError:
    match = re.search(r"\s*\(at (?:line (\d+), column (\d+)|end of document)\)", words)
    line = None
    if match is not None:
        line = int(match[1]) if match[1] else text.count("\n") + 1
        words = words[: match.start()]
    digits = "digits" in words
    why = message("too-many-digits") if digits else UserText(words, "system")
    source = text.split("\n")[line - 1].strip() if line is not None else ""
    hints = (hint for pattern, hint in _HINTS if re.search(pattern, words))
    advice = next(hints, message("toml-hint/line"))
    if is_log(path):
        advice = message("toml-hint/log")
    if not source:
        return _error(path, message("study-syntax/nowhere", why=why, advice=advice), line)
    found = UserText(source[:80], "value")
    return _error(path, message("study-syntax", why=why, found=found, advice=advice), line)


_STRING = re.compile(
    r'"""(?:[^\\]|\\.)*?"{3,5}|\'\'\'.*?\'{3,5}|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'', re.DOTALL
)


def key_lines(text: str) -> dict[tuple[Key, ...], int]:
    """The line of each key and table of a TOML text that is known to be sound.

    A path is the keys from the top, with the index of an array's entry among them. Keys inside
    an inline table are not listed: theirs is the line of the key or entry they belong to.
    """
    lines: dict[tuple[Key, ...], int] = {}
    counts: dict[tuple[Key, ...], int] = {}
    table: tuple[Key, ...] = ()
    at = start = 0
    line = 1
    while at < len(text):
        line += text.count("\n", start, at)
        start = at
        if text[at] in " \t\n":
            at += 1
        elif text[at] == "#":
            at = _end_of_line(text, at)
        elif text[at] == "[":
            repeated = text.startswith("[[", at)
            at += 2 if repeated else 1
            end = _find(text, at, "]")
            table = _table_path(_key_parts(text[at:end]), repeated, counts)
            lines.setdefault(table, line)
            at = _end_of_line(text, end)
        else:
            end = _find(text, at, "=")
            where = table
            for part in _key_parts(text[at:end]):
                where = (*where, part)
                lines.setdefault(where, line)
            at = _end_of_value(text, end + 1)
            entry_line, seen = line, start
            for number, entry in enumerate(_entries(text, end + 1, at)):
                entry_line += text.count("\n", seen, entry)
                seen = entry
                lines.setdefault((*where, number), entry_line)
    return lines


def _table_path(
    parts: list[str], repeated: bool, counts: dict[tuple[Key, ...], int]
) -> tuple[Key, ...]:
    where: tuple[Key, ...] = ()
    for number, part in enumerate(parts, 1):
        where = (*where, part)
        if repeated and number == len(parts):
            counts[where] = counts.get(where, 0) + 1
        if where in counts:
            where = (*where, counts[where] - 1)
    return where


def _key_parts(raw: str) -> list[str]:
    node: object = tomllib.loads(f"{raw.strip()} = 0")
    parts: list[str] = []
    while isinstance(node, dict):
        part, node = next(iter(node.items()))
        parts.append(part)
    return parts


def _end_of_line(text: str, at: int) -> int:
    end = text.find("\n", at)
    return len(text) if end < 0 else end


def _find(text: str, at: int, wanted: str) -> int:
    """Index of a character outside quotes."""
    while at < len(text) and text[at] != wanted:
        quoted = _STRING.match(text, at)
        at = quoted.end() if quoted else at + 1
    return at


def _entries(text: str, at: int, end: int) -> Iterator[int]:
    """Where each entry of an array begins; nothing if the value from `at` to `end` is none."""
    depth, fresh = 0, False
    while at < end:
        quoted = _STRING.match(text, at)
        character = text[at]
        if depth == 0 and character not in " \t[":
            return
        if depth == 1 and fresh and character not in " \t\n#,]":
            yield at
            fresh = False
        if quoted:
            at = quoted.end()
            continue
        if character == "#":
            at = _end_of_line(text, at)
            continue
        depth += (character in "[{") - (character in "]}")
        fresh = fresh or (depth == 1 and character in "[,")
        at += 1


def _end_of_value(text: str, at: int) -> int:
    """Index of the line end that closes a value; brackets, strings and comments looked through."""
    depth = 0
    while at < len(text):
        quoted = _STRING.match(text, at)
        if quoted:
            at = quoted.end()
            continue
        if text[at] == "#":
            at = _end_of_line(text, at)
            continue
        if text[at] == "\n" and depth <= 0:
            return at
        depth += (text[at] in "[{") - (text[at] in "]}")
        at += 1
    return at
