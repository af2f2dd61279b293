"""One HTML file from a template and its charts: styles, scripts and policy, nothing outside."""

from __future__ import annotations

import base64
import functools
import hashlib
import json
import re
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

from jinja2 import Environment, FunctionLoader, StrictUndefined
from jinja2.utils import htmlsafe_json_dumps
from markupsafe import Markup

from gearing.analysis.sides import SIDES
from gearing.messages.display import Display
from gearing.report.chart import CONFIG, Chart, Spec, still
from gearing.report.glossary import channels, glossed, template_file, terms
from gearing.report.typography import unbroken

if TYPE_CHECKING:
    from gearing.report.section import Section


Still = Callable[[Spec, str], str]


def document(
    template: str,
    sections: Sequence[Section],
    display: Display,
    *,
    library: str | None = None,
    still: Still = still,
    **context: Any,
) -> str:
    """The template filled in; the drawing library is in it only where there are charts.

    `library` is what `drawing_library` gives, and `still` draws a panel's still picture, where
    the caller keeps them.
    """
    panels = {
        f"live-{chart.key}-{index}": (spec, f"{chart.key}{index}")
        for part in sections
        for chart in part.charts
        for index, spec in enumerate(chart.panels)
    }

    def stills(chart: Chart) -> list[tuple[str, Markup]]:
        """Each panel's id and still picture."""
        ids = [f"live-{chart.key}-{index}" for index in range(len(chart.panels))]
        return [(one, Markup(still(*panels[one]))) for one in ids]

    bundle = (library or drawing_library()) if panels else ""
    starter = template_file("page.js")
    specs = _specs({key: spec for key, (spec, _) in panels.items()})
    return (
        _environment()
        .get_template(template)
        .render(
            policy=_policy(bundle, starter),
            style=Markup(template_file("page.css")),
            bundle=Markup(bundle),
            starter=Markup(starter),
            specs=htmlsafe_json_dumps(specs, separators=(",", ":")),
            side_names={side: display.tires(side) for side in SIDES},
            terms=terms(),
            channels=channels(),
            sections=sections,
            stills=stills,
            **context,
        )
    )


def _specs(panels: dict[str, Spec]) -> dict[str, Any]:
    """Every panel's specification by its id, and once each what all of them are configured with
    and every set of rows, as columns and cells."""
    names: dict[str, str] = {}  # of rows as text
    rows: dict[str, list[list[Any]]] = {}

    def named(part: Any) -> Any:
        """A specification whose rows stand apart and are called by name."""
        if isinstance(part, list):
            return [named(one) for one in part]
        if not isinstance(part, dict):
            return part
        if isinstance(values := part.get("values"), list) and part.keys() == {"values"}:
            name = names.setdefault(json.dumps(values), f"rows{len(names)}")
            rows[name] = _columns(values)
            return {"name": name}
        return {key: named(value) for key, value in part.items() if key != "config"}

    return {"config": CONFIG, "specs": {k: named(spec) for k, spec in panels.items()}, "rows": rows}


def _columns(rows: list[dict[str, Any]]) -> list[list[Any]]:
    """The names of the columns, then each row's cells."""
    names = list(rows[0]) if rows else []
    return [names, *([row[name] for name in names] for row in rows)]


def _wordy(cell: str) -> bool:
    """Whether a word in it is too long for a narrow column."""
    return any(len(word) > 22 for word in cell.split())


def start_templates() -> None:
    """Have the page's templates compiled, which takes longer than filling them in."""
    for name in ("page.html", "frame.html", "parts.html", "sheet.html"):
        _environment().get_template(name)


def drawing_library() -> str:
    """The drawing library, with nothing in it that would end a script element early.

    Takes over a second to put together, and is the same for one version of `vl_convert`.
    """
    import vl_convert

    script = str(vl_convert.javascript_bundle())  # type: ignore[call-arg]
    return script.replace("</script", "<\\/script")


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
        loader=FunctionLoader(template_file),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["glossed"] = lambda text: unbroken(glossed(text))
    environment.filters["unbroken"] = unbroken
    environment.tests["wordy"] = _wordy
    environment.tests["day"] = lambda cell: re.fullmatch(r"\d{4}-\d{2}-\d{2}", cell) is not None
    return environment
