"""A lesson's video looked over: the camera's place, and where the balls landed.

Needs the extra ``video``. Nothing is kept of a film but numbers, and no picture leaves the machine.
"""

__all__ = [
    "asked",
    "by_sight",
    "by_sound",
    "found",
    "kept_lines",
    "listen",
    "look",
    "marked",
    "mirrored",
    "planned",
    "record",
    "region",
    "suggested",
    "unfinished",
]
