"""Feedscript: write tennis feeds, prove them safe, rehearse them, run them on a launcher."""

__version__ = "0.1.0"
