"""The study shown in the README is one that loads, and the sample study too."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from gearing.logs.headings import COMPANION_UNITS, channel_named, short_name
from gearing.quantities import QUANTITIES, Quantity
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


@pytest.mark.parametrize("quantity", QUANTITIES.values(), ids=lambda quantity: quantity.name)
def test_every_channel_stands_in_the_readme_as_in_the_table(quantity: Quantity) -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    (row,) = re.findall(rf"^\| `{short_name(quantity.name)}` \| .*$", readme, re.MULTILINE)
    _, name, meaning, unit, standard, _ = (cell.strip() for cell in row.split("|"))
    assert channel_named(name.strip("`")) == quantity.name
    assert meaning == quantity.meaning
    assert unit == ("" if quantity.unit == "-" else quantity.unit)
    assert (f"PID {quantity.pid}" in standard) == (quantity.pid is not None)
    assert (f"SPN {quantity.spn}" in standard) == (quantity.spn is not None)


def test_the_readme_names_what_companion_files_carry() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    section = readme.split("### The channels")[1].split("### ")[0]
    for name in COMPANION_UNITS:
        assert f"`{short_name(name)}`" in section


def test_sample_study() -> None:
    study = load_study(ROOT / "sample_logs" / "study.toml")
    sides = [side for _, side in log_files(study)]
    assert sides.count("before") >= 12
    assert sides.count("after") >= 12
