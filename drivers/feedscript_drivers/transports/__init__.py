"""What carries the wire's bytes."""

__all__ = ["inbox", "tap"]
