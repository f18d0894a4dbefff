"""Coaches' desks on the club's server, each a process of its own: programs written, handed to
courts and proposed to the library, and lessons reviewed."""

__all__ = ["MOST_DESKS", "asked", "process"]

#: So many coaches are at desks of one server process, where nobody says otherwise. Design value: a
#: desk with an hour's lesson open takes some 200 MB.
MOST_DESKS = 8
