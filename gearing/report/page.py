"""The page: results.json and the frames beside it, as one HTML file that needs nothing else."""

from __future__ import annotations

import base64
import hashlib
from importlib import resources
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, StrictUndefined
from jinja2.utils import htmlsafe_json_dumps
from markupsafe import Markup

from gearing.report.cautions import CAUTIONS
from gearing.report.chart import Chart, still
from gearing.report.display import Display, System
from gearing.report.glossary import TERMS, glossed
from gearing.report.head import head
from gearing.report.reading import dig
from gearing.report.sections import sections
from gearing.report.share import shared
from gearing.report.translate import translated
from gearing.report.typography import unbroken
from gearing.report.words import answers

if TYPE_CHECKING:
    import polars as pl

Results = dict[str, Any]


def render(
    results: Results,
    frames: dict[str, pl.DataFrame],
    *,
    share: bool = False,
    units: System | None = None,
) -> str:
    """The report as HTML.

    `frames` are `trips`, `segments` and `routes` as written beside the page, any of them
    missing. `share` drops positions, times of day and the names of files. `units` overrules
    those of the results (`units`, `us` or `metric`).
    """
    if share:
        results, frames = shared(results, frames)
    display = Display(units or system(results))
    results = translated(results, display)
    parts = sections(results, frames, display)
    charts = [chart for part in parts for chart in part.charts]
    bundle = _bundle() if charts else ""
    starter = _file("page.js")
    template = _environment().from_string(_file("page.html"))
    return template.render(
        policy=_policy(bundle, starter),
        style=Markup(_file("page.css")),
        bundle=Markup(bundle),
        starter=Markup(starter),
        specs=htmlsafe_json_dumps({_panel_id(c, i): s for c in charts for i, s in _panels(c)}),
        head=head(results, frames, display),
        answers=answers(results, display.system),
        sections=parts,
        cautions=CAUTIONS,
        terms=sorted(TERMS, key=lambda term: term.name.lower()),
        display=display,
        share=share,
    )


def system(results: Results) -> System:
    """The reader's units as the results name them; metric where they do not."""
    for keys in (("units",), ("declared", "units")):
        if dig(results, *keys) == "us":
            return "us"
    return "metric"


def _panels(chart: Chart) -> list[tuple[int, dict[str, Any]]]:
    return list(enumerate(chart.panels))


def _panel_id(chart: Chart, index: int) -> str:
    return f"live-{chart.key}-{index}"


def _stills(chart: Chart) -> list[tuple[str, Markup]]:
    """Each panel's id and still picture."""
    return [
        (_panel_id(chart, index), Markup(still(spec, f"{chart.key}{index}")))
        for index, spec in _panels(chart)
    ]


def _bundle() -> str:
    """The drawing library, with nothing in it that would end a script element early."""
    import vl_convert

    script = str(vl_convert.javascript_bundle())  # type: ignore[call-arg]
    return script.replace("</script", "<\\/script")


def _file(name: str) -> str:
    return resources.files("gearing.report").joinpath(name).read_text(encoding="utf-8")


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


def _environment() -> Environment:
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    environment.filters["glossed"] = lambda text: unbroken(glossed(text))
    environment.filters["unbroken"] = unbroken
    environment.globals["stills"] = _stills
    return environment
