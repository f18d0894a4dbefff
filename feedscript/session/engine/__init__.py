"""Conducting a plan: the lesson's state, its phases, its launchers."""

__all__ = ["connect", "engine", "resume", "start", "wall_clock"]
