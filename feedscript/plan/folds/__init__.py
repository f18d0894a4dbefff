"""What is known of every run of a plan: worked out over its tree."""
