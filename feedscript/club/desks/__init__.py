"""Coaches' desks on the club's server, each a process of its own: programs written, handed to
courts and proposed to the library, and lessons reviewed."""
