"""Conducting a plan: the lesson's state, its phases, its launchers."""

__all__ = ["connect", "engine", "launcher_stops", "resume", "start", "wall_clock"]
