"""What the store keeps of people: accounts, groups, families' links, who read what, who is
forgotten."""
