"""A launcher's profile: what it is, and reading it from a file."""
