"""One HTML file from a template and its charts: styles, scripts and policy, nothing outside."""

from __future__ import annotations

import base64
import functools
import hashlib
import json
import re
from collections.abc import Sequence
from importlib import resources
from typing import Any

from jinja2 import Environment, FunctionLoader, StrictUndefined
from jinja2.utils import htmlsafe_json_dumps
from markupsafe import Markup

from gearing.messages.display import Display
from gearing.report.chart import Chart, still
from gearing.report.glossary import channels, glossed, terms
from gearing.report.reading import SIDES
from gearing.report.typography import unbroken


def document(
    template: str,
    charts: Sequence[Chart],
    display: Display,
    *,
    library: str | None = None,
    **context: Any,
) -> str:
    """The template filled in; the drawing library is in it only where there are charts.

    `library` is what `drawing_library` gives, where the caller has kept it.
    """
    bundle = (library or drawing_library()) if charts else ""
    starter = _file("page.js")
    return (
        _environment()
        .get_template(template)
        .render(
            policy=_policy(bundle, starter),
            style=Markup(_file("page.css")),
            bundle=Markup(bundle),
            starter=Markup(starter),
            specs=htmlsafe_json_dumps(_specs(charts), separators=(",", ":")),
            side_names={side: display.tires(side) for side in SIDES},
            terms=terms(),
            channels=channels(),
            **context,
        )
    )


def _specs(charts: Sequence[Chart]) -> dict[str, Any]:
    """Every panel's specification by its id, and once each what all of them are configured with
    and every set of rows, as columns and cells."""
    panels = {_panel_id(c, i): spec for c in charts for i, spec in enumerate(c.panels)}
    config = next((spec.get("config") for spec in panels.values()), None)
    kept: dict[str, str] = {}  # rows as text, to their name
    specs = {key: _named(spec, kept) for key, spec in panels.items()}
    for spec in specs.values():
        spec.pop("$schema", None)
        spec.pop("config", None)
    return {
        "config": config or {},
        "rows": {name: _columns(json.loads(rows)) for rows, name in kept.items()},
        "specs": specs,
    }


def _columns(rows: list[dict[str, Any]]) -> list[list[Any]]:
    """The names of the columns, then each row's cells."""
    names = list(rows[0]) if rows else []
    return [names, *([row[name] for name in names] for row in rows)]


def _named(part: Any, kept: dict[str, str]) -> Any:
    """A specification whose rows stand in `kept` and are called by name."""
    if isinstance(part, list | tuple):
        return [_named(one, kept) for one in part]
    if not isinstance(part, dict):
        return part
    if isinstance(part.get("values"), str):
        return {"name": kept.setdefault(part["values"], f"rows{len(kept)}")}
    return {key: _named(value, kept) for key, value in part.items()}


def _wordy(cell: str) -> bool:
    """Whether a word in it is too long for a narrow column."""
    return any(len(word) > 22 for word in cell.split())


def _panel_id(chart: Chart, index: int) -> str:
    return f"live-{chart.key}-{index}"


def _stills(chart: Chart) -> list[tuple[str, Markup]]:
    """Each panel's id and still picture."""
    return [
        (_panel_id(chart, index), Markup(still(spec, f"{chart.key}{index}")))
        for index, spec in enumerate(chart.panels)
    ]


def drawing_library() -> str:
    """The drawing library, with nothing in it that would end a script element early.

    Takes over a second to put together, and is the same for one version of `vl_convert`.
    """
    import vl_convert

    script = str(vl_convert.javascript_bundle())  # type: ignore[call-arg]
    return script.replace("</script", "<\\/script")


def _file(name: str) -> str:
    return resources.files("gearing.report").joinpath("templates", name).read_text(encoding="utf-8")


def _policy(*scripts: str) -> str:
    """The content security policy: our own scripts by digest, no network, nothing else.

    The drawing library compiles its expressions, hence `unsafe-eval`; handlers and scripts that
    slipped in as text would still not run.
    """
    digests = " ".join(
        f"'sha256-{base64.b64encode(hashlib.sha256(s.encode()).digest()).decode()}'"
        for s in scripts
        if s
    )
    return (
        f"default-src 'none'; script-src {digests} 'unsafe-eval'; style-src 'unsafe-inline'; "
        "img-src data:; base-uri 'none'; form-action 'none'"
    )


@functools.cache
def _environment() -> Environment:
    environment = Environment(
        loader=FunctionLoader(_file),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["glossed"] = lambda text: unbroken(glossed(text))
    environment.filters["unbroken"] = unbroken
    environment.globals["stills"] = _stills
    environment.tests["wordy"] = _wordy
    environment.tests["day"] = lambda cell: re.fullmatch(r"\d{4}-\d{2}-\d{2}", cell) is not None
    return environment
