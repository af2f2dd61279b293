"""What is being done, on standard error, for people who wait at a terminal."""

from __future__ import annotations

import contextlib
import sys
import time
from collections.abc import Iterable

from gearing.messages import Items, Message, Quantity, message

_SILENT_S = 1.0  # shorter work needs no word
_EVERY_S = 0.2


class Progress(contextlib.AbstractContextManager["Progress"]):
    """One line that is overwritten: step, files done, rows, time left.

    Quiet when asked to be, and where standard error is no terminal.
    """

    def __init__(self, *, quiet: bool = False) -> None:
        self._shown = not quiet and sys.stderr is not None and sys.stderr.isatty()
        self._began = self._last = time.monotonic()
        self._step_began = self._began
        self._step: Message | None = None
        self._width = 0

    def __exit__(self, *_: object) -> None:
        self._draw("")

    def step(self, step: Message, done: int = 0, total: int = 0, rows: int = 0) -> None:
        """Tell that `done` of `total` files of `step` are finished, `rows` rows in all."""
        now = time.monotonic()
        if step != self._step:
            self._step, self._step_began = step, now
        if not self._shown or now - self._began < _SILENT_S or now - self._last < _EVERY_S:
            return
        self._last = now
        if not total:
            self._draw(str(step))
            return
        figures = [message("files-done", done=done, files=total)]
        if rows:
            figures.append(message("rows-done", rows=rows))
        if 0 < done < total:
            left_s = (now - self._step_began) / done * (total - done)
            figures.append(message("time-left", left=Quantity(left_s, "s")))
        self._draw(str(message("progress", step=step, figures=Items(tuple(figures), ","))))

    def tell(self, sentences: Iterable[str]) -> None:
        """Tell what is to be mended, however quiet: the run goes on without it."""
        self._draw("")
        with contextlib.suppress(OSError, ValueError, AttributeError):
            sys.stderr.writelines(f"gearing: {sentence}\n" for sentence in sentences)
            sys.stderr.flush()

    def _draw(self, text: str) -> None:
        if self._shown and (text or self._width):
            sys.stderr.write("\r" + text.ljust(self._width) + ("" if text else "\r"))
            sys.stderr.flush()
            self._width = len(text)
