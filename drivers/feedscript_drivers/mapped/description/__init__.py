"""The file that describes a device: its keys, what they may hold, and reading it."""
