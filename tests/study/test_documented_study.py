"""The study shown in the README is one that loads, and the sample study too."""

from __future__ import annotations

import re
from pathlib import Path

from gearing.study import load_study, log_files

ROOT = Path(__file__).resolve().parents[2]


def test_study_of_the_readme(tmp_path: Path) -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    (shown,) = (
        block
        for block in re.findall(r"```toml\n(.*?)```", text, re.DOTALL)
        if block.startswith("name =") and "[before]" in block
    )
    for name in re.findall(r'"([\w/*]+\.csv)"', shown):
        path = tmp_path / name.replace("*", "trip")
        path.parent.mkdir(exist_ok=True)
        path.write_text("time\n")
    path = tmp_path / "study.toml"
    path.write_text(shown, encoding="utf-8")
    study = load_study(path)
    assert study.name == "bookmobile"
    assert study.routes
    assert study.columns
    assert study.vehicle.engine is not None


def test_sample_study() -> None:
    study = load_study(ROOT / "sample_logs" / "study.toml")
    sides = [side for _, side in log_files(study)]
    assert sides.count("before") >= 12
    assert sides.count("after") >= 12
