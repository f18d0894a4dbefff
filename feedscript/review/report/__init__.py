"""What the records of a lesson tell."""
