"""What is said when a launcher stops by itself: which one, why, and what the others do.

Every launcher has a safety state of its own, and all are stopped together. Whatever stops one
brings a person onto the court to it, in front of the others, just as a collect does; and before
anybody is called there, every launcher is stopped. A hold would leave wheels turning behind
somebody's back, so each launcher is armed again, by a person at it.
"""

from __future__ import annotations

from feedscript.diagnostics import Diagnostic, Page
from feedscript.launcher.faults import fault_words, where_to_look
from feedscript.launcher.port import LauncherState
from feedscript.tongues.text import _

LAUNCHER_FAULT = Page(
    slug="launcher-fault",
    title="A launcher found trouble and stopped",
    why=(
        "A ball jammed, the hopper ran empty, a drive did not come to speed, the voltage fell or "
        "something grew too hot. The launcher that found it stops by itself, and every other "
        "launcher of the lesson is stopped with it: somebody walks over to fix it, and nobody "
        "walks in front of a launcher that may feed. When it is fixed, the set-up list is gone "
        "through and each launcher is armed again at itself; the lesson goes on where it was."
    ),
)
STOPPED_BY_ITSELF = Page(
    slug="stopped-by-itself",
    title="A launcher stopped though the lesson did not ask for it",
    why=(
        "Somebody turned its arming switch off or pressed its emergency stop, a hold lasted longer "
        "than its limit, or it heard nothing from this computer for too long. Every other launcher "
        "of the lesson is stopped with it. When the cause is known and over, set up again."
    ),
)
STOP_NOT_CONFIRMED = Page(
    slug="stop-not-confirmed",
    title="A launcher that did not say that it stopped",
    why=(
        "At a lesson's end every launcher is told to stop and says that it did. Of one that does "
        "not, nobody knows here: its link may be gone, and its own watchdog, where it has one, has "
        "stopped it; or it may go on. Whoever walks in front of it goes to its own switch first."
    ),
)
ARMED_AFTER_STOP = Page(
    slug="armed-after-stop",
    title="A launcher that says that it is armed, after it said that it stopped",
    why=(
        "Nobody asked it to be armed since. Its word may only have come late; or it really is "
        "armed, and what it said before counts no more. It is told to stop again, and is shown as "
        "stopping until it says that it did. A launcher that does this again is looked at first."
    ),
)
PAGES = (LAUNCHER_FAULT, STOPPED_BY_ITSELF, STOP_NOT_CONFIRMED, ARMED_AFTER_STOP)


def stop_not_confirmed(name: str) -> Diagnostic:
    """A launcher that never said that it stopped, though the lesson is over."""
    return STOP_NOT_CONFIRMED.report(
        _("{launcher} did not confirm that it stopped", launcher=name or _("the launcher")),
        help=_("keep away from it; its own emergency stop needs no link"),
    )


def armed_after_stop(name: str) -> Diagnostic:
    """A launcher whose acknowledgement of a stop or a hold does not hold any more."""
    return ARMED_AFTER_STOP.report(
        _(
            "{launcher} says that it is armed, after it said that it stopped; "
            "it is told to stop again",
            launcher=name or _("the launcher"),
        ),
        help=_("keep away from it; its own emergency stop needs no link"),
    )


def launcher_fault(name: str, kind: str, detail: str) -> Diagnostic:
    """A fault that a launcher reported, and where to look for its cause."""
    after = _("fix it while all are stopped, then set up again and arm each launcher")
    look = where_to_look(kind, detail)
    return LAUNCHER_FAULT.report(
        _(
            "{launcher}: {fault}; every launcher is told to stop",
            launcher=name or _("the launcher"),
            fault=fault_words(kind, detail),
        ),
        help=_("{look}; {after}", look=look, after=after) if look else after,
    )


#: In what state a launcher left.
_STATES = {
    LauncherState.SAFE: _("safe"),
    LauncherState.AWAITING_ARM: _("awaiting-arm"),
    LauncherState.ARMED: _("armed"),
    LauncherState.HELD: _("held"),
    LauncherState.STOPPING: _("stopping"),
    LauncherState.STOPPED: _("stopped"),
    LauncherState.FAULT: _("fault"),
}
#: The reason of a launcher whose hold lasted longer than its limit, as the port spells it.
HOLD_LIMIT = "hold-limit"


def stopped_by_itself(name: str, state: LauncherState, reason: str) -> Diagnostic:
    """A launcher that left the lesson on its own."""
    if reason == HOLD_LIMIT:
        return STOPPED_BY_ITSELF.report(
            _(
                "{launcher}: the hold lasted as long as it may and has become a stop; "
                "every launcher is told to stop",
                launcher=name or _("the launcher"),
            ),
            help=_("set up again and arm each launcher; for a longer talk stop, or make a break"),
        )
    return STOPPED_BY_ITSELF.report(
        _(
            "{launcher}: {state} ({reason}); every launcher is told to stop",
            launcher=name or _("the launcher"),
            state=_STATES[state],
            reason=reason,
        ),
        help=_("see why, then set up again and arm each launcher"),
    )
