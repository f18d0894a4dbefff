"""The court: its lines, its net, and places in words turned into metres."""

__all__ = ["landmarks", "lines", "net", "pages", "places", "ranges", "saying"]
