"""Programs held to named faults: read from a file, rehearsed, judged by what launchers saw."""

__all__ = ["hold_trials", "read_trials", "report"]
