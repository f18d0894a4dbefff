"""The pages of people and rights: signing in, groups and players, a family's page, accounts, what
is kept, and who read what. They need no script."""
