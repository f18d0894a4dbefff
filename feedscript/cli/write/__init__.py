"""Commands for writing programs."""
