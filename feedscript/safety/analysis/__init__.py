"""What a rule is, the case that it judges, and how it is judged."""
