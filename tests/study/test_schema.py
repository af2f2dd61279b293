"""The study file's JSON Schema, against studies that are right and studies that are not.

Checked by a general-purpose validator of JSON Schema (draft 2020-12), which knows nothing of the
reading that the schema is made of.
"""

from __future__ import annotations

import copy
import json
import re
import tomllib
from importlib import resources
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from gearing.study.schema import study_schema

ROOT = Path(__file__).resolve().parents[2]
GUIDE = resources.files("gearing") / "guide"
CHECK = jsonschema.Draft202012Validator(study_schema())


def as_json(value: object) -> Any:
    """TOML's values as JSON's: dates and times as texts."""
    if isinstance(value, dict):
        return {key: as_json(one) for key, one in value.items()}
    if isinstance(value, list):
        return [as_json(one) for one in value]
    return value if isinstance(value, str | int | float) else value.isoformat()  # type: ignore[attr-defined]


def guide_example() -> Any:
    page = (GUIDE / "study-file.md").read_text(encoding="utf-8")
    found = re.search(r"```toml\n(name = \"bookmobile\".*?)```", page, re.DOTALL)
    assert found is not None
    return as_json(tomllib.loads(found[1]))


def test_the_committed_schema_is_what_reading_asks_for() -> None:
    committed = (GUIDE / "study.schema.json").read_text(encoding="utf-8")
    assert json.loads(committed) == study_schema()


def test_it_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(study_schema())


def test_the_sample_and_the_guide_s_example_are_right() -> None:
    sample = tomllib.loads((ROOT / "sample_logs" / "study.toml").read_text(encoding="utf-8"))
    assert not [error.message for error in CHECK.iter_errors(as_json(sample))]
    assert not [error.message for error in CHECK.iter_errors(guide_example())]


@pytest.mark.parametrize(
    ("table", "key", "value", "place"),
    [
        ("", "unit", "us", []),  # a key that there is not
        ("", "units", "imperial", ["units"]),
        ("", "seed", 1.5, ["seed"]),
        ("vehicle", "mass", 26500, ["vehicle", "mass"]),  # a quantity without its unit
        ("vehicle", "axle_ratio", "4.88", ["vehicle", "axle_ratio"]),
        ("vehicle", "axle_ratio", 48.8, ["vehicle", "axle_ratio"]),
        ("vehicle", "gear_ratios", [], ["vehicle", "gear_ratios"]),
        ("before", "fitment", "twin", ["before", "fitment"]),
        ("before", "drive_tire", None, ["before"]),  # it must be there
        ("", "name", None, []),
    ],
)
def test_what_reading_refuses_the_schema_refuses_too(
    table: str, key: str, value: object, place: list[str]
) -> None:
    study = copy.deepcopy(guide_example())
    inside = study[table] if table else study
    if value is None:
        del inside[key]
    else:
        inside[key] = value
    assert place in [list(error.absolute_path) for error in CHECK.iter_errors(study)]


def test_a_file_or_tables_of_dash_readings() -> None:
    study = guide_example()
    for dash in ("dash.csv", [{"at": "2026-04-02T10:05:00", "odometer": "48210 mi"}]):
        assert CHECK.is_valid({**study, "dash": dash})
    assert not CHECK.is_valid({**study, "dash": [{"speed": "60 mph"}]})
