"""``feedscript court-side``: a lesson on a launcher, with the court-side page beside it."""

from __future__ import annotations

from contextlib import AbstractAsyncContextManager
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from feedscript.cli.on_court.from_the_page import lessons_from_the_page
from feedscript.cli.on_court.run import LessonOptions, conduct, lesson_options
from feedscript.cli.options import (
    certificate_of,
    certificate_options,
    court_network_option,
    format_option,
    port_option,
)
from feedscript.cli.output import Exit, refuse
from feedscript.diagnostics import FeedscriptError

if TYPE_CHECKING:
    from feedscript.session.engine.engine import Engine
    from feedscript.terminal.run import Pairing


@click.command()
@lesson_options
@court_network_option
@port_option
@certificate_options
@format_option
def command(
    on_court_network: bool,
    port: int,
    tls_certificate: Path | None,
    tls_key: Path | None,
    output_format: str,
    **asked: Any,
) -> None:
    """Run FILE on a launcher from the court-side page, or choose on the page what to run.

    With a folder, or without FILE, the phone lists the programs of the folder (or of this one),
    your own library and what comes with feedscript, lessons that were broken off first; after a
    lesson another can be chosen.

    Shows a link and its QR code; the code in it pairs one device, once, within ten minutes. That
    device can pair others. Arming stays a person's act at the launcher, and the page's STOP is no
    emergency stop. Try it without a launcher: --on sim:
    """
    from feedscript.console.extra import what_is_missing

    missing = what_is_missing()
    if missing is not None:
        refuse(Exit.USAGE, (missing,), output_format)
    from feedscript.console.listening import listen
    from feedscript.console.review_page import review_page
    from feedscript.console.serve import serve

    files = certificate_of(tls_certificate, tls_key)
    options = LessonOptions(**asked)
    from_the_page = not options.resume and (options.file is None or Path(options.file).is_dir())
    try:
        if from_the_page:
            lessons_from_the_page(options, lambda at: listen(on_court_network, at, files), port)
        listening = listen(on_court_network, port, files)
    except FeedscriptError as failed:
        refuse(Exit.USAGE, (failed.diagnostic,), output_format)

    def page(engine: Engine) -> AbstractAsyncContextManager[Pairing]:
        kept = engine.lesson.journal.path
        review = partial(review_page, kept, engine.lesson.session_id)
        return serve(engine, listening, review)

    conduct(options, output_format, page)
