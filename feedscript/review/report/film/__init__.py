"""What films of a lesson told: where feeds really landed, and what became of players' shots."""

__all__ = ["landed", "section", "shots"]
