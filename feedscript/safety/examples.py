"""Small whole programs, for the wrong and corrected examples of the rules' pages."""

from __future__ import annotations

GARAGE = 'profile "garage.toml"  stands 1 m behind centre mark'


def fed(
    name: str = "deep",
    land: str = "2 m inside baseline, on centre line",
    speed: str = "80 km/h",
    spin: str = "top 600 rpm",
    also: str = "",
) -> str:
    """One feed; ``also`` is put at its end."""
    parts = [f"land {land}", f"speed {speed}", f"spin {spin}", *([also] if also else [])]
    return f"feed {name} {{ {'  '.join(parts)} }}"


def example(
    feed_text: str = "",
    *,
    steps: str = "show speed of deep  send deep after 6 s",
    court: str = "surface hard",
    balls: str = "type 2  load 60",
    launcher: str = GARAGE,
    launcher_name: str = "",
    group: str = "2 players  level club",
    more: str = "",
) -> str:
    """A program about a feed called ``deep``; every part may be changed."""
    lines = [
        "feedscript 1",
        'title "One feed"',
        f"court {{ {court} }}",
        f"balls {{ {balls} }}",
        f"launcher{' ' if launcher_name else ''}{launcher_name} {{ {launcher} }}",
        f"group {{ {group} }}",
        *([more] if more else []),
        feed_text or fed(),
        f"lesson {{ {steps} }}",
    ]
    return "\n".join(lines) + "\n"


def two_stations(left: str, right: str) -> str:
    """Two launchers side by side, each with the feed of its side."""
    return f"""feedscript 1
title "Two stations"
court {{ surface hard }}
balls {{ type 2 }}
launcher west {{
    profile "garage.toml"
    stands 1 m behind baseline, 2.5 m ad of centre mark
    load 40
}}
launcher east {{
    profile "garage.toml"
    stands 1 m behind baseline, 2.5 m deuce of centre mark
    load 40
}}
group {{ 2 players  level club }}
{left}
{right}
lesson {{
    show speed of left
    show speed of right
    together {{
        station "a" on launcher west {{ send left after 6 s }}
        station "b" on launcher east {{ send right after 6 s }}
    }}
}}
"""
