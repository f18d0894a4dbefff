"""Before a lesson: finding, checking, pairing and setting up a launcher."""

__all__ = ["keys"]
