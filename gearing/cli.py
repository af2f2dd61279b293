"""Commands: words in, words out; no computing.

Everything heavy is imported inside the command that needs it, so that help comes at once.
"""

from __future__ import annotations

import functools
import json
import os
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, Literal

import click

from gearing.cli_words import EXIT_USAGE, Commands
from gearing.messages import (
    PROGRAM_FAULT,
    GearingError,
    UserText,
    message,
    problem_of,
)
from gearing.messages.columns import USUAL_WIDTH
from gearing.run.streams import print_lines, print_text, say, screen_width
from gearing.version import __version__

EXIT_NO_ANSWER = 1
EXIT_FAULT = 3  # ours, not the user's
EXIT_STOPPED = 130  # 128 and the number of the signal, as shells have it

_STUDY = click.argument("study_file", metavar="STUDY.toml", type=click.Path(path_type=Path))
Units = Literal["us", "metric"]

_FORMAT = click.option(
    "--format",
    "form",
    type=click.Choice(["text", "json"]),
    default="text",
    show_default=True,
    help="What to print.",
)
_UNITS = click.option(
    "--units", type=click.Choice(["us", "metric"]), help="Units to show, over the study's own."
)
_DEBUG = click.option("--debug", is_flag=True, help="Show where in the program a fault arose.")


def _guarded(command: Callable[..., None]) -> Callable[..., None]:
    """Turn what a user can mend into words and status 2, and keep our own faults apart."""

    @_DEBUG
    @functools.wraps(command)
    def wrapped(*args: Any, debug: bool, **options: Any) -> None:
        """The command, every error told and turned into its exit status; `debug` lets it
        through."""
        try:
            command(*args, **options)
        except GearingError as error:
            if debug:
                raise
            for problem in error.problems:
                say(f"gearing: {problem.sentence()}")
            sys.exit(EXIT_USAGE)
        except KeyboardInterrupt:
            say(f"gearing: {message('stopped')}")
            sys.exit(EXIT_STOPPED)
        except (click.ClickException, click.exceptions.Exit, click.Abort, BrokenPipeError):
            raise
        except Exception as error:
            if debug:
                raise
            fault = problem_of(message("program-fault", system=UserText(repr(error), "system")))
            say(f"gearing: {fault.message}")
            say(fault.remedy)
            sys.exit(EXIT_FAULT)

    return wrapped


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="gearing")
def main() -> None:
    """What a change of tire size did to a heavy vehicle, from logs before and after.

    \b
    Start with     gearing inspect --write-study study.toml MY_LOGS
    fill in the blanks, and then     gearing run study.toml

    \b
    Completion in bash: eval "$(_GEARING_COMPLETE=bash_source gearing)"
    (zsh_source and fish_source likewise)
    """


@main.command(
    short_help="Answer the three questions and write the report.",
    epilog="Example: gearing run sample_logs/study.toml",
)
@_STUDY
@click.option(
    "--out",
    type=click.Path(path_type=Path),
    help="Folder to write to.  [default: reports/<name of the study>]",
)
@click.option("--jobs", type=click.IntRange(min=1), help="Processes to use.  [default: all cores]")
@_UNITS
@click.option("--seed", type=click.IntRange(min=0), help="Seed, over the study's own.")
@click.option(
    "--cluster",
    metavar="ADDRESS",
    help="Run on the workers of this dask.distributed scheduler.",
)
@click.option("--no-cache", is_flag=True, help="Read every log anew and keep nothing for later.")
@click.option(
    "--share",
    is_flag=True,
    help="Leave positions, times of day and file paths out of the page.",
)
@_FORMAT
@click.option("--quiet", is_flag=True, help="No progress and no closing words.")
@_guarded
def run(
    study_file: Path,
    out: Path | None,
    jobs: int | None,
    units: Units | None,
    seed: int | None,
    cluster: str | None,
    no_cache: bool,
    share: bool,
    form: str,
    quiet: bool,
) -> None:
    """Answer the three questions from a study file and its logs, and write the report.

    A fleet file, which names many studies, runs them all and compares the vehicles.
    """
    if sys.flags.optimize > 1:
        raise GearingError((problem_of(message("stripped-python")),))
    from gearing.run.workers import ONE_THREAD, keep_memory

    os.environ |= ONE_THREAD | os.environ
    keep_memory()
    from gearing.run.batch import Options, run_study
    from gearing.run.progress import Progress
    from gearing.study.fleet import is_fleet

    options = Options(
        out=out,
        jobs=jobs,
        units=units,
        seed=seed,
        keep=not no_cache,
        share=share,
        cluster=cluster,
    )
    fleet = is_fleet(study_file)
    with Progress(quiet=quiet) as progress:
        if fleet:
            from gearing.run.fleet import run_fleet

            outcome = run_fleet(study_file, options, progress)
        else:
            outcome = run_study(study_file, options, progress)
    if form == "json":
        print_text(json.dumps(outcome.results, ensure_ascii=False, indent=1))
    elif not quiet:
        print_lines(outcome.lines)
        if outcome.unchanged:
            print_text("Nothing has changed since the last run.")
        print_text(f"Report: {outcome.folder / ('fleet.html' if fleet else 'report.html')}")
        if share:
            print_text("Hand on pages alone: files beside them hold times of day and file names.")
    if outcome.faults:
        ours = any(problem.code == PROGRAM_FAULT for problem in outcome.faults)
        sys.exit(EXIT_FAULT if ours else EXIT_USAGE)
    if not outcome.answered:
        sys.exit(EXIT_NO_ANSWER)


@main.command(short_help="How each log would be read.", epilog="Example: gearing inspect trip.csv")
@click.argument("files", metavar="FILE...", nargs=-1, type=click.Path(path_type=Path))
@click.option(
    "--columns",
    "columns_from",
    metavar="STUDY.toml",
    type=click.Path(path_type=Path),
    help="Study file whose [columns] and time zone to use.",
)
@click.option(
    "--write-study",
    "study_out",
    metavar="PATH",
    type=click.Path(path_type=Path),
    help="Write a commented study file for the folder of logs given, to fill in.",
)
@_FORMAT
@_guarded
def inspect(
    files: tuple[Path, ...], columns_from: Path | None, study_out: Path | None, form: str
) -> None:
    """Show how each log would be read, what it is good for and what is missing."""
    from gearing.run.workers import ONE_THREAD, keep_memory, while_importing

    os.environ |= ONE_THREAD | os.environ  # logs are read side by side
    keep_memory()
    with while_importing():
        from gearing.run.inspection import inspect_files, joined
        from gearing.study.starting import write_starting_study

    if study_out is not None:
        if len(files) != 1:
            raise click.UsageError(
                "--write-study takes one folder of logs, as in: "
                "gearing inspect --write-study study.toml MY_LOGS"
            )
        print_text("\n".join(write_starting_study(study_out, files[0], joined)))
        return
    if not files:
        raise click.UsageError(
            "Name one or more log files, or a folder of them, as in: gearing inspect trip.csv"
        )
    print_text(inspect_files(files, columns_from, as_json=form == "json", width=screen_width()))


@main.command(
    short_help="Tire sizes side by side.",
    epilog="Example: gearing tires 245/70R19.5 265/70R19.5 275/70R19.5@598",
)
@click.argument("sizes", metavar="SIZE SIZE...", nargs=-1)
@click.option("--units", type=click.Choice(["us", "metric"]), help="Units to show.  [default: us]")
@_FORMAT
@_guarded
def tires(sizes: tuple[str, ...], units: Units | None, form: str) -> None:
    """Two or more tire sizes side by side, each against the first.

    By size arithmetic, or by the published revolutions (a mile or a km) behind a size and an @.
    """
    from gearing.analysis.sizes import compare_all
    from gearing.messages.display import Display
    from gearing.report.sizes import size_text
    from gearing.results import dumps, plain

    if len(sizes) < 2:
        raise click.UsageError(
            "Name two or more sizes, the one to compare with first, as in: "
            "gearing tires 245/70R19.5 265/70R19.5"
        )
    first, *further = found = compare_all(sizes)
    if form == "json":
        print_text(dumps(plain(first) | {"further": plain(further)}).removesuffix("\n"))
    else:
        print_text(size_text(found, Display(units or "us"), screen_width() or USUAL_WIDTH))


@main.command(
    short_help="Engine speed by gear and road speed.",
    epilog="Example: gearing gears sample_logs/study.toml",
)
@_STUDY
@_UNITS
@_FORMAT
@_guarded
def gears(study_file: Path, units: Units | None, form: str) -> None:
    """Engine speed by gear and road speed, before and after, as declared."""
    from gearing.analysis.gearing_table import gearing_table
    from gearing.messages.display import Display
    from gearing.report.gear_table import gear_table
    from gearing.results import dumps, plain
    from gearing.study import load_study

    study = load_study(study_file, logs_needed=False)
    table = gearing_table(study)
    if form == "json":
        print_text(dumps(plain(table)).removesuffix("\n"))
    else:
        width = screen_width() or USUAL_WIDTH
        display = Display(units or study.units)
        print_text(gear_table(table, display, width, logged=study.has_logs))


@main.command(
    short_help="Sizes and axle ratios side by side, before anything is bought.",
    epilog="Example: gearing candidates sample_logs/study.toml",
)
@_STUDY
@_UNITS
@click.option("--seed", type=click.IntRange(min=0), help="Seed, over the study's own.")
@_FORMAT
@_guarded
def candidates(study_file: Path, units: Units | None, seed: int | None, form: str) -> None:
    """Compare the study's [[candidate]] sizes and axle ratios with the present tires.

    From its logs where there are any, else from what is declared.
    """
    from gearing.run.workers import ONE_THREAD

    os.environ |= ONE_THREAD | os.environ
    from gearing.report.candidates_text import candidate_lines
    from gearing.results import dumps
    from gearing.run.batch import Options
    from gearing.run.compare_candidates import candidate_results, compare_candidates
    from gearing.run.progress import Progress

    with Progress(quiet=form == "json") as progress:
        study, finding = compare_candidates(study_file, Options(seed=seed), progress)
    if form == "json":
        print_text(dumps(candidate_results(finding)).removesuffix("\n"))
    else:
        width = screen_width() or USUAL_WIDTH
        print_text("\n".join(candidate_lines(finding, units or study.units, width)))


@main.command(
    short_help="The mountain routes alone.",
    epilog="Example: gearing mountain sample_logs/study.toml --reverse",
)
@_STUDY
@click.option("--reverse", is_flag=True, help="Drive each route the other way.")
@_UNITS
@click.option("--seed", type=click.IntRange(min=0), help="Seed, over the study's own.")
@_FORMAT
@_guarded
def mountain(
    study_file: Path, reverse: bool, units: Units | None, seed: int | None, form: str
) -> None:
    """The mountain routes alone, as declared, without any logs."""
    from gearing.report.lines import Line
    from gearing.report.terminal import route_lines
    from gearing.results import dumps, plain
    from gearing.run.analyze import mountain_alone
    from gearing.study import load_study

    study = load_study(study_file, logs_needed=False)
    finding = mountain_alone(study, reverse=reverse, seed=seed)
    if form == "json":
        print_text(dumps(plain(finding)).removesuffix("\n"))
    else:
        told = route_lines(finding, units or study.units, logged=study.has_logs)
        print_lines([Line(one) for one in told])


@main.command(short_help="The pages of the guide.", epilog="Example: gearing guide channels")
@click.argument("topic", metavar="[TOPIC]", required=False)
@_guarded
def guide(topic: str | None) -> None:
    """Show a page of the guide; without a topic, all topics with a line each."""
    from gearing.guide import find_topic, nearest_topic, page, topic_list

    if topic is None:
        print_text(topic_list())
        return
    found = find_topic(topic)
    if found is None:
        close = nearest_topic(topic)
        hint = f"Did you mean {close!r}?" if close else f"Topics are:\n\n{topic_list()}"
        raise click.UsageError(f"The guide has no topic {topic!r}. {hint}")
    print_text(page(found).removesuffix("\n"))
