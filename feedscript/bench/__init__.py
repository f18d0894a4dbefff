"""The tester's bench: what is one lesson as planned, as rehearsed and as it was, ball by ball."""

__all__ = [
    "baseline",
    "differences",
    "junit",
    "picture",
    "record",
    "relived",
    "sides",
    "tolerances",
    "touched",
]
