"""What a person commands and sees, the same for every screen."""

__all__ = [
    "aims",
    "auto_operator",
    "commands",
    "controller",
    "controls",
    "jog",
    "phase_words",
    "phases",
    "view",
]
