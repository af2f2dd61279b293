"""The sample study: where it lies, what is true of it, and copies of it to be changed."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import Any

SAMPLE = Path(__file__).resolve().parents[2] / "sample_logs"
TRUTH: dict[str, Any] = json.loads((SAMPLE / "truth.json").read_text(encoding="utf-8"))


def sample_copy(folder: Path, *left_out: str, routes: bool = True) -> Path:
    """A copy in `folder`, which is made, without what a run left, without names like `left_out`
    and, as they take longest, maybe without its routes; its study file."""
    ignored = shutil.ignore_patterns(".gearing-cache", "reports", *left_out)
    shutil.copytree(SAMPLE, folder, ignore=ignored)
    study = folder / "study.toml"
    if not routes:
        text = study.read_text(encoding="utf-8")
        study.write_text(text[: text.index("[[route]]")], encoding="utf-8")
    return study
