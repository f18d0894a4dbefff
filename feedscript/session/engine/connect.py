"""From a certified plan and the launchers' URLs to an engine that is ready to run."""

from __future__ import annotations

from collections.abc import AsyncIterator, Sequence
from contextlib import AsyncExitStack, asynccontextmanager
from pathlib import Path

import msgspec

from feedscript.diagnostics import Diagnostic, FeedscriptError
from feedscript.journal.lease import lease
from feedscript.journal.store import Journal
from feedscript.launcher.discovery import driver_for
from feedscript.launcher.port import ConnectOptions, LauncherError, LauncherPort
from feedscript.launcher.profile.model import Profile
from feedscript.launcher.trials.meaning import BY_THE_COURT
from feedscript.launcher.trials.trial import Trial
from feedscript.plan.model import Plan
from feedscript.session.engine.engine import Engine
from feedscript.session.engine.guards import LAUNCHERS_DIFFER, CertifiedFences, Fences, crossed
from feedscript.session.engine.resume import Broken, find_broken, resume_lesson
from feedscript.session.engine.start import Setting, begin_lesson, new_token
from feedscript.session.state.event_log import serials_at_first


class Links(msgspec.Struct, frozen=True, kw_only=True):
    """How the launchers are reached: one URL each, in the plan's order."""

    urls: tuple[str, ...]
    capture: Path | None = None
    seed: int = 0
    faults: tuple[str, ...] = ()
    trials: tuple[Trial, ...] = ()
    key: bytes | None = None


@asynccontextmanager
async def connect_lesson(
    plan: Plan,
    profiles: Sequence[Profile],
    links: Links,
    journal: Journal,
    setting: Setting,
    *,
    broken: Broken | None = None,
    fences: Fences | None = None,
) -> AsyncIterator[Engine]:
    """An engine on open links; its ``run`` conducts the lesson. ``broken`` is resumed.

    Raises LauncherError when a launcher cannot be reached. Nothing is written before all are.
    Raises FeedscriptError, and opens none, when another process runs the lesson or the plan that is
    resumed may not run.
    """
    token = broken.token if broken is not None else new_token()
    fence = fences or CertifiedFences()
    async with AsyncExitStack() as stack:
        if broken is not None:
            stack.enter_context(lease(journal.path, broken.session_id, setting.wall_utc_s))
            broken = find_broken(journal, broken.session_id)  # as its last host left it
            # A file may hold any plan: before anything is made of it.
            for refusal in fence.refusals(broken.plan, broken.profiles):
                raise FeedscriptError(refusal)
        left_before = broken.left_before if broken is not None else ()
        ports = await _open(stack, plan, profiles, links, token, left_before)
        if broken is not None:
            before = serials_at_first(journal, broken.session_id, len(plan.launchers))
            # Before any of them is asked what became of another's balls.
            for refusal in crossed(plan, before, [port.description for port in ports]):
                raise LauncherError(refusal)
            lesson = resume_lesson(broken, journal, fence, setting)
        else:
            lesson = begin_lesson(plan, profiles, journal, fence, setting, token)
            stack.enter_context(lease(journal.path, lesson.session_id, setting.wall_utc_s))
        yield Engine(lesson, ports, profiles)


async def _open(
    stack: AsyncExitStack,
    plan: Plan,
    profiles: Sequence[Profile],
    links: Links,
    token: int,
    left_before: Sequence[int],
) -> list[LauncherPort]:
    if len(links.urls) != len(plan.launchers):
        raise LauncherError(
            LAUNCHERS_DIFFER.report(
                f"the plan has {len(plan.launchers)} launcher(s), {len(links.urls)} address(es) "
                "were given",
                help="give --on once for each launcher, in the order of the program",
            )
        )
    ports = []
    for number, (url, profile) in enumerate(zip(links.urls, profiles, strict=True)):
        driver = driver_for(url)
        if isinstance(driver, Diagnostic):
            raise LauncherError(driver)
        connect, address = driver
        options = ConnectOptions(
            profile=profile,
            session=token,
            left_before=left_before[number] if left_before else 0,
            seed=links.seed + number,
            faults=links.faults,
            trials=_at(links.trials, number),
            capture=_numbered(links.capture, number),
            key=links.key,
        )
        ports.append(await stack.enter_async_context(connect(address.rest, options)))
    return ports


def _at(trials: tuple[Trial, ...], number: int) -> tuple[Trial, ...]:
    """The named faults of one launcher; what people on court do reaches all of them."""
    return tuple(one for one in trials if one.launcher == number + 1 or one.what in BY_THE_COURT)


def _numbered(capture: Path | None, number: int) -> Path | None:
    """A file of its own for each launcher's bytes."""
    if capture is None or number == 0:
        return capture
    return capture.with_name(f"{capture.stem}-{number + 1}{capture.suffix}")
