"""Launchers that speak another language, described by a TOML file instead of code.

The device at the other end promises less than the wire does; ``shared/guarantees.json`` says what.
"""
