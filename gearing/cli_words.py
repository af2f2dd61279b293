"""Words of the command line that are wrong, answered with what to write."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import click

from gearing.run.streams import drop_output, not_printed, open_streams, say

EXIT_USAGE = 2


class Command(click.Command):
    """A command that answers wrong words with its example."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """The words as options and arguments."""
        try:
            return super().parse_args(ctx, args)
        except (click.NoSuchOption, click.BadParameter) as error:
            if not isinstance(error, click.MissingParameter):
                raise
            told = f"{error.format_message()} {self.epilog}"
        except click.UsageError as error:
            told = f"{error.format_message()}. {self.epilog}"
        raise click.UsageError(told, ctx)


class Commands(click.Group):
    """The commands; what the shell did to the standard streams is dealt with around them all."""

    command_class = Command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command named; one that is not known is answered with what there is."""
        try:
            return super().resolve_command(ctx, args)
        except click.UsageError as error:
            told = error.format_message()
        word, path = args[0], Path(args[0])
        if word in ("help", "version"):
            told = f"For that write gearing --{word}."
        elif path.suffix.lower() == ".toml":
            told = f"{told} To run a study file: gearing run {word}"
        elif path.exists():
            told = f"{told} To see how logs would be read: gearing inspect {word}"
        elif "Did you mean" not in told:
            listed = (f"  {name:<11} {one.short_help}" for name, one in self.commands.items())
            told = "\n".join([f"{told} There are:", "", *listed])
        raise click.UsageError(told, ctx)

    def main(self, *args: Any, **extra: Any) -> Any:
        """Run the command named; what cannot be written of its help is told, with status 2."""
        open_streams()
        try:
            return super().main(*args, **extra)
        except OSError as error:  # of help: what a command prints is guarded by itself
            drop_output()
            say(f"gearing: {not_printed(error).sentence()}")
            sys.exit(EXIT_USAGE)
