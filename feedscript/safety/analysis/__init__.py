"""What a rule is, the facts it looks at, and how rules are applied."""
