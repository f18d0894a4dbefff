"""Balls in the air: equations of motion, their integration, events on the way."""

__all__ = ["conditions", "equations_of_motion", "flights", "hermite", "tracks"]
