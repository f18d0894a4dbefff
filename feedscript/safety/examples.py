"""A small whole program, for the wrong and mended examples of the rules' pages."""

from __future__ import annotations

FEED = "land 2 m inside baseline, on centre line  speed 80 km/h  spin top 600 rpm"
STEPS = "show speed of deep  send deep after 6 s"


def example(
    *,
    feed: str = FEED,
    steps: str = STEPS,
    court: str = "surface hard",
    balls: str = "type 2  load 60",
    launcher: str = 'profile "garage.toml"  stands 1 m behind centre mark',
    group: str = "2 players  level club",
    more: str = "",
) -> str:
    """A program about one feed called ``deep``; every part may be changed."""
    return "\n".join(
        [
            "feedscript 1",
            'title "One feed"',
            f"court {{ {court} }}",
            f"balls {{ {balls} }}",
            f"launcher {{ {launcher} }}",
            f"group {{ {group} }}",
            *([more] if more else []),
            f"feed deep {{ {feed} }}",
            f"lesson {{ {steps} }}",
            "",
        ]
    )


def two_stations(left: str, right: str, more: str = "") -> str:
    """Two launchers side by side; ``left`` and ``right`` are the feeds they send."""
    return f"""feedscript 1
title "Two stations"
court {{ surface hard }}
balls {{ type 2 }}
launcher west {{ profile "garage.toml"  stands 1 m behind baseline, 2.5 m ad of centre mark
    load 40 }}
launcher east {{ profile "garage.toml"  stands 1 m behind baseline, 2.5 m deuce of centre mark
    load 40 }}
group {{ 2 players  level club }}
{more}
feed left {{ {left} }}
feed right {{ {right} }}
lesson {{
    show speed of left
    show speed of right
    together {{
        station "a" on launcher west {{ send left after 6 s }}
        station "b" on launcher east {{ send right after 6 s }}
    }}
}}
"""
