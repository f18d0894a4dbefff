"""Every court of the club as it is now, for the head coach's phone and for a wall: to look, and to
stop. Nothing starts, arms or changes a lesson from here."""

__all__ = ["card"]
