"""Where two results differ."""

from __future__ import annotations

from pathlib import Path
from typing import Any


def differences(one: Any, other: Any, place: str = "") -> list[str]:
    """Each place in which two JSON values differ, with both values; digests of files apart."""
    if isinstance(one, dict) and isinstance(other, dict):
        keys = [key for key in (*one, *(k for k in other if k not in one)) if key != "files"]
        return [
            d for key in keys for d in differences(one.get(key), other.get(key), f"{place}.{key}")
        ]
    if isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        pairs = enumerate(zip(one, other, strict=True))
        return [d for i, (a, b) in pairs for d in differences(a, b, f"{place}[{i}]")]
    return [] if one == other else [f"{place}: {one!r} against {other!r}"]


def contents(folder: Path) -> dict[str, bytes]:
    """Every file of a folder and of those in it, by its path from there."""
    files = sorted(path for path in folder.rglob("*") if path.is_file())
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}
