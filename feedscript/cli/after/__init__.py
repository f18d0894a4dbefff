"""Commands for what is left of a lesson."""
