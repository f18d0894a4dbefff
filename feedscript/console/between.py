"""Serving the page between lessons until one is chosen; no lesson runs meanwhile."""

from __future__ import annotations

import asyncio
from collections.abc import Callable

from feedscript.console.acceptor import Acceptor, RequestsTold, paired_by
from feedscript.console.access import Access, Role
from feedscript.console.chooser import Before, Chooser, Chosen, chooser_app
from feedscript.console.listening import Listening
from feedscript.console.offer import Places
from feedscript.console.serve import PageServer, Served, hosts_of, page_config, url_of
from feedscript.host.event_loop import run_watching

#: How often it is looked whether the code that pairs a first device is stale.
LOOK_S = 5.0


def choose_lesson(
    places: Places,
    before: Before,
    listening: Listening,
    access: Access,
    tell: Callable[[str], None],
) -> Chosen | None:
    """What a coach's device chose; None where the page was ended without. ``tell`` shows words at
    this machine: how a device gets to the page. KeyboardInterrupt for Ctrl-C."""
    return run_watching(_choose(places, before, listening, access, tell))


async def _choose(
    places: Places,
    before: Before,
    listening: Listening,
    access: Access,
    tell: Callable[[str], None],
) -> Chosen | None:
    acceptor = Acceptor(listening.socket, listening.tls)

    def done() -> None:
        server.should_exit = True

    chooser = Chooser(places, before, access, done)
    app = chooser_app(chooser, hosts_of(listening))
    server = PageServer(page_config(RequestsTold(app, acceptor, paired_by(access))), acceptor)
    inviting = asyncio.create_task(_invite(listening, access, tell))
    await server.serve([listening.socket])
    inviting.cancel()
    return chooser.chosen


async def _invite(listening: Listening, access: Access, tell: Callable[[str], None]) -> None:
    """A link for the first device, and a fresh one whenever nobody spent it in its time."""
    served = Served(url_of(listening), access, listening.on_court_network)
    while not access.anybody():
        if not access.waits_for_a(Role.COACH):
            tell(served.invite(viewer=False))
        await asyncio.sleep(LOOK_S)
