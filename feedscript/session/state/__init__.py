"""The lesson's state, what happens to it, and the one function that makes the next of both."""

__all__ = [
    "apply",
    "event_log",
    "events",
    "exercises",
    "exercises_by_plan",
    "lanes",
    "own_collects",
    "run_state",
]
