"""Where balls may come, and what is in danger there."""
