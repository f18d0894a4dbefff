"""The lesson's state, what happens to it, and the one function that makes the next of both."""

__all__ = ["event_log", "events", "exercises_by_plan", "lanes", "own_collects"]
