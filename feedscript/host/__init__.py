"""What differs between operating systems, each thing once: keys, the ways a process is ended,
locks, files for their owner alone.

Windows' side was written from its documentation and tried with stand-ins for its functions; see
``shared/decisions/0014-windows-and-macos.md`` for what was seen running where.
"""

__all__ = [
    "bounds",
    "child_process",
    "ended_by",
    "endings",
    "event_loop",
    "keyboard",
    "locking",
    "memory",
    "private_file",
    "streams",
    "whole_file",
]
