"""Draws on a terminal from a thread of its own: a terminal that does not take what is written
(a paused window, a slow line) keeps nobody waiting, least of all a stop."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager

from rich.console import Console, RenderableType
from rich.live import Live

#: A terminal that has not taken the last picture in this time is left as it is.
PATIENCE_S = 1.0


class Painter:
    """Shows the newest picture on the terminal's second screen; older ones are dropped."""

    def __init__(self, console: Console) -> None:
        self._console = console
        self._more = threading.Condition()
        self._picture: RenderableType | None = None
        self._bell = False
        self._closing = False
        self._thread = threading.Thread(target=self._run, name="painter", daemon=True)

    def show(self, picture: RenderableType, *, bell: bool = False) -> None:
        """Draw this as soon as the terminal takes it; ``bell`` rings once beside it."""
        with self._more:
            self._picture = picture
            self._bell = self._bell or bell
            self._more.notify()

    def start(self) -> None:
        self._thread.start()

    def close(self) -> None:
        """Give the terminal back as it was."""
        with self._more:
            self._closing = True
            self._more.notify()
        self._thread.join(PATIENCE_S)

    def _run(self) -> None:
        try:
            with Live(
                console=self._console,
                auto_refresh=False,
                screen=True,
                redirect_stdout=False,
                redirect_stderr=False,
            ) as live:
                while not self._closing:
                    picture, bell = self._take()
                    if bell:
                        self._console.bell()
                    if picture is not None:
                        live.update(picture, refresh=True)
        except OSError:
            return  # the window is gone; the lesson hears of that by its signal

    def _take(self) -> tuple[RenderableType | None, bool]:
        with self._more:
            while self._picture is None and not self._closing:
                self._more.wait()
            taken = self._picture, self._bell
            self._picture, self._bell = None, False
            return taken


@contextmanager
def painting(console: Console) -> Iterator[Painter]:
    """A painter for as long as the context lasts."""
    painter = Painter(console)
    painter.start()
    try:
        yield painter
    finally:
        painter.close()
