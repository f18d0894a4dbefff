"""Pictures of a launcher: its head, and what it reaches."""
