"""How to throw so that a ball lands where it is wished."""

__all__ = ["aiming", "sensitivity", "targets", "what_if", "wishes"]
