"""What is known of every run of a plan: worked out over its tree."""

__all__ = [
    "across",
    "arrivals",
    "bounds",
    "change_overs",
    "fold",
    "pairs",
    "player_fold",
    "size",
    "steps_alone",
    "under_jumps",
]
