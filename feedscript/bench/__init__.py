"""The tester's bench: what is one lesson as planned, as rehearsed and as it was, ball by ball."""

__all__ = ["differences", "junit", "picture", "record", "sides", "tolerances"]
