"""The verbs by the stage of the job, each in a few words: what ``feedscript --help`` shows without
importing any of them."""

from __future__ import annotations

#: From writing a program to many courts; within a stage in the order in which one needs them.
STAGES: dict[str, dict[str, str]] = {
    "Write": {
        "desk": "write programs and see them, in a browser",
        "programs": "list, find or copy programs",
        "profiles": "list or copy launchers' profiles",
        "tidy": "bring programs into the usual layout",
        "why": "what a diagnostic means, and how to mend it",
        "language-server": "serve an editor",
    },
    "Prove": {
        "check": "language, reach, timing and safety: one verdict",
        "certify": "write the certified plan",
        "draw": "the court, the flights, the time line; sheets and cards",
        "rehearse": "the whole lesson on a simulated launcher",
        "test": "every `expect` of a program",
        "playable": "which programs may be played on which launchers",
        "withstand": "rehearsals with jams, dead links, lost answers",
        "touched": "which rules, states and words programs leave untried",
        "relive": "a capture played back: decides the driver as it did",
        "compare": "plan, rehearsal and record ball by ball",
        "baseline": "keep what programs are, and hold them to it",
        "season": "lessons over weeks, and their calendar",
        "flight": "where one ball lands",
    },
    "Set up": {
        "find": "list serial ports and launchers in range",
        "look-over": "what keeps this machine from a launcher",
        "set-up": "store a profile's limits in a launcher",
        "pair": "a launcher with this user, for Bluetooth and networks",
        "link-check": "round trip, loss, clock and stop of a link",
        "jog": "speed, spin and aim by hand",
        "parts": "parts of a launcher to build",
        "board-check": "a controller board of your own",
        "mapped": "launchers that speak a language of their own",
        "stand-in": "be a simulated launcher",
    },
    "On court": {
        "run": "a lesson from the terminal",
        "court-side": "a lesson from a phone",
    },
    "Afterwards": {
        "review": "what came of a lesson",
        "journal": "the lessons kept here: list, copy, export, delete",
        "watch": "where balls landed, from a film",
        "tune": "fit a profile to measured landings",
        "bundle": "pack everything for a report",
    },
    "Many courts": {
        "club": "one history of a club's courts",
    },
    "This program": {
        "settings": "what holds where no option is given, and from where",
        "schema": "JSON Schema of profiles, plans and all that is told",
        "completion": "complete commands in your shell",
        "manual": "write the manual's pages for `man`",
    },
}
