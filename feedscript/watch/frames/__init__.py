"""A video's pictures with their times, and its sound, read one piece after another."""

__all__ = ["container", "pages", "sound", "video"]
