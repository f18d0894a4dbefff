"""The rules, one small module each, named by its slug."""
