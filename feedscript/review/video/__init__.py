"""Where in a video a ball is found."""

__all__ = ["chapters", "cues", "film", "sync"]
