"""The studies shown in the README and the guide are ones that load, and the sample study too."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from gearing.logs.headings import BESIDE, channel_named, short_name
from gearing.quantities import QUANTITIES, Quantity
from gearing.study import Study, load_study, log_files

ROOT = Path(__file__).resolve().parents[2]


def shown_study(page: str, folder: Path) -> Study:
    """The study that a page shows, read, with files for what it names."""
    text = (ROOT / page).read_text(encoding="utf-8")
    (shown,) = (
        block
        for block in re.findall(r"```toml\n(.*?)```", text, re.DOTALL)
        if block.startswith("name =") and "[before]" in block
    )
    for name in re.findall(r'"([\w/*]+\.csv)"', shown):
        path = folder / name.replace("*", "trip")
        path.parent.mkdir(exist_ok=True)
        path.write_text("time\n")
    path = folder / "study.toml"
    path.write_text(shown, encoding="utf-8")
    return load_study(path)


def test_study_of_the_readme(tmp_path: Path) -> None:
    study = shown_study("README.md", tmp_path)
    assert study.before is not None
    assert study.after is not None
    assert study.claim is not None


def test_study_of_the_guide(tmp_path: Path) -> None:
    study = shown_study("gearing/guide/study-file.md", tmp_path)
    assert study.name == "bookmobile"
    assert study.routes
    assert study.columns
    assert study.vehicle.engine is not None


@pytest.mark.parametrize("quantity", QUANTITIES.values(), ids=lambda quantity: quantity.name)
def test_every_channel_stands_in_the_guide_as_in_the_table(quantity: Quantity) -> None:
    page = (ROOT / "gearing" / "guide" / "channels.md").read_text(encoding="utf-8")
    (row,) = re.findall(rf"^\| `{short_name(quantity.name)}` \| .* \| .* \|$", page, re.MULTILINE)
    _, name, meaning, unit, _, standard, *_ = (cell.strip() for cell in row.split("|"))
    assert channel_named(name.strip("`")) == quantity.name
    assert meaning == quantity.meaning
    assert unit == ("" if quantity.unit == "-" else quantity.unit)
    assert (f"PID {quantity.pid}" in standard) == (quantity.pid is not None)
    assert (f"SPN {quantity.spn}" in standard) == (quantity.spn is not None)


def test_the_guide_names_what_companion_files_carry() -> None:
    page = (ROOT / "gearing" / "guide" / "channels.md").read_text(encoding="utf-8")
    section = page.split("## Beside the logs")[1]
    for name in BESIDE:
        assert f"`{short_name(name)}`" in section


def test_sample_study() -> None:
    study = load_study(ROOT / "sample_logs" / "study.toml")
    sides = [side for _, side in log_files(study)]
    assert sides.count("before") >= 12
    assert sides.count("after") >= 12
