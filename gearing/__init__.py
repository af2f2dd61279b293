"""What a change of tire size did to a heavy vehicle, from before/after logs.

`gearing.analyze("study.toml")` gives a study's results, `gearing.read_results(path)` those that a
run wrote: the same frozen record that the page, the terminal and `--format json` show.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from gearing.version import __version__

if TYPE_CHECKING:
    from gearing.results.record import Results, read_results
    from gearing.run.batch import analyze

__all__ = ["Results", "__version__", "analyze", "read_results"]

_FROM = {
    "analyze": "gearing.run.batch",
    "read_results": "gearing.results.record",
    "Results": "gearing.results.record",
}


def __getattr__(name: str) -> Any:
    """Loaded when asked for: `gearing --help` is to be quick."""
    from importlib import import_module

    if name not in _FROM:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(_FROM[name]), name)
