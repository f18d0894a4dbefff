"""The diagnostics of links and launchers."""

from __future__ import annotations

from feedscript.diagnostics import Page

NO_ANSWER = Page(
    slug="no-answer",
    title="The launcher did not answer a step of the handshake",
    why=(
        "Opening a launcher takes named steps: open the port, hello, who, open the session, "
        "limits. The message names the step that failed, how long it was tried and which bytes "
        "came instead. Bytes that are not lines usually mean another speed of the port or "
        "another device on it; none at all mean a launcher without power or the wrong port."
    ),
)

LAUNCHER_REFUSED = Page(
    slug="launcher-refused",
    title="The launcher refused a command",
    why=(
        "The launcher checks every command against its own limits, state and memory, whatever "
        "the host believes. A refusal had no effect."
    ),
)

GIVEN_UP = Page(
    slug="given-up",
    title="A command was given up because a stop or hold went ahead of it",
    why=(
        "Stop and hold pass everything that waits. A command that was under way then may or "
        "may not have acted; a feed's outcome is asked about, never assumed."
    ),
)

PORT_MISSING = Page(
    slug="port-missing",
    title="There is no such port",
    why="The device file or COM port named in the address does not exist on this machine now.",
)

PORT_DENIED = Page(
    slug="port-denied",
    title="This user may not open the port",
    why=(
        "Serial ports belong to a group of users on Linux; on macOS and Windows another program "
        "or a missing driver is the usual cause. `feedscript look-over` names the one command."
    ),
)

PORT_BUSY = Page(
    slug="port-busy",
    title="Another program holds the port",
    why="Two programs that write to one launcher would undo each other's safety; one may open it.",
)

ADDRESS = Page(
    slug="launcher-address",
    title="The launcher's address cannot be read",
    why=(
        "An address is a scheme and what the scheme needs: `serial:DEVICE`, `tcp:HOST:PORT`, "
        "`ble:NAME`, `sim:`, `replay:FILE`."
    ),
)

NO_SUCH_LAUNCHER = Page(
    slug="launcher-not-found",
    title="No launcher answers at that address",
    why="Nothing listens there, or the device is switched off, out of range or out of reach.",
)

KEY_WRONG = Page(
    slug="key-refused",
    title="The launcher did not accept the key, or there is none",
    why=(
        "Over radio or a network a launcher lets itself be armed and fed only by a host that "
        "holds its key. `feedscript pair` puts one in place over the cable. Without it, status "
        "can be read and the launcher stopped. The cable itself needs no key, except while the "
        "launcher is still in the session of a host that had one: switching it off ends that."
    ),
)

KEY_DOWNGRADE = Page(
    slug="key-downgrade",
    title="A launcher off the cable that says it takes no key",
    why=(
        "Lines without a key can be said by anybody on a radio or a network, also the one that "
        "says that a launcher takes no key. So on such a link the host goes on under the "
        "launcher's key or not at all. Only a stand-in on this machine may be used without one, "
        "when its address says so: `tcp:127.0.0.1:PORT@unkeyed`."
    ),
)

PAGES = (
    NO_ANSWER,
    LAUNCHER_REFUSED,
    GIVEN_UP,
    PORT_MISSING,
    PORT_DENIED,
    PORT_BUSY,
    ADDRESS,
    NO_SUCH_LAUNCHER,
    KEY_WRONG,
    KEY_DOWNGRADE,
)
