"""The club's launchers for whoever looks after them: which stands where, and one's weeks."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence

from starlette.responses import Response
from starlette.routing import BaseRoute

from feedscript.club.launchers.pictures import Picture, pictures
from feedscript.club.launchers.sheets import WEEKS, Launchers, Sheet, Tuned, Week
from feedscript.club.launchers.words import COMMANDS, SEEN, faults, to_do
from feedscript.club.library.pages.bounds import scrolling, table
from feedscript.club.library.pages.list_page import place_of, short
from feedscript.club.library.profiles import Shelved, shelved
from feedscript.club.library.shelf import Shelf
from feedscript.club.people.pages.answers import Desk, Routes
from feedscript.club.people.pages.frame import page, section
from feedscript.club.people.pages.html import Child, Node, el
from feedscript.club.people.pages.visit import Visit, not_there
from feedscript.club.who import may_keep_library
from feedscript.review.drawing.svg import write
from feedscript.review.report.words import day, short_day
from feedscript.tongues.text import _, figure, n_, p_
from feedscript.tongues.tongue import Tongue

PLACE = "/launchers"
_QUEUE = "launchers"


def id_of(sheet: Sheet) -> str:
    """What stands for a launcher in an address."""
    named = f"{sheet.name}\n{sheet.serial}".encode()
    return hashlib.sha256(named).hexdigest()[:16]


class LauncherPages:
    """The handlers. ``shelf`` has the club's profiles."""

    def __init__(self, launchers: Launchers, shelf: Shelf) -> None:
        self._launchers = launchers
        self._shelf = shelf

    def listed(self, _desk: Desk, visit: Visit) -> Response:
        sheets, known = self._launchers.sheets(visit.now_utc_s), shelved(self._shelf)
        nothing = _("No court has sent a lesson of the last {n} weeks yet.", n=WEEKS)
        about = _(
            "From all courts' lessons of the last {n} weeks. Rehearsals do not count.", n=WEEKS
        )
        return page(
            visit,
            p_("club", "Launchers"),
            el("p", about if sheets else nothing, class_="hint"),
            *[_card(one, known) for one in sheets],
        )

    def one(self, _desk: Desk, visit: Visit) -> Response:
        sheets = self._launchers.sheets(visit.now_utc_s)
        sheet = next((one for one in sheets if id_of(one) == visit.path["launcher"]), None)
        if sheet is None:
            raise not_there()
        return page(
            visit,
            _called(sheet),
            _card(sheet, shelved(self._shelf), whole=True),
            _weeks(sheet, visit.tongue),
            _tunings(sheet, shelved(self._shelf)),
        )


def _called(sheet: Sheet) -> str:
    return f"{sheet.name} ({sheet.serial})" if sheet.serial else sheet.name


def _card(sheet: Sheet, known: Sequence[Shelved], *, whole: bool = False) -> Node:
    """Where it stands, what is known of it, and what to do."""
    facts = el("dl", *_facts(sheet, known), class_="facts")
    next_ = _advice(sheet, known)
    if whole:
        return section("now", _("Now"), facts, next_)
    its = f"{PLACE}/{id_of(sheet)}"
    link = el("a", _("Its weeks"), href=its, aria_label=_("The weeks of {name}", name=sheet.name))
    return section(f"launcher-{id_of(sheet)}", _called(sheet), facts, next_, beside=link)


def _facts(sheet: Sheet, known: Sequence[Shelved]) -> list[Node]:
    stands = _("{court}, run last on {day}", court=sheet.court, day=day(sheet.last_utc_s))
    balls = n_("{n} ball", "{n} balls", sheet.balls)
    lessons = n_("{n} lesson", "{n} lessons", sheet.lessons)
    rows: list[tuple[str, Child]] = [
        (_("Stands at"), stands),
        (_("Profile"), _profile(sheet.tuned[-1], known)),
        (_("Firmware"), sheet.firmware or _("it does not say")),
        (_("Did"), _("{balls} in {lessons}", balls=balls, lessons=lessons)),
        (_("Faults"), faults(sheet) if sheet.faults else p_("faults", "none")),
    ]
    return [part for name, value in rows for part in (el("dt", name), el("dd", value))]


def _profile(tuned: Tuned, known: Sequence[Shelved]) -> Node:
    """By its name in the library, where that has it."""
    found = next((one for one in known if one.profile_hash == tuned.profile_hash), None)
    version = el("code", short(tuned.profile_hash))
    if found is None:
        return el("span", version, " ", _("(not in the club's library)"))
    at = place_of(found.version.sha256)
    return el("span", el("a", f"club/{found.version.name}", href=at), " ", version)


def _advice(sheet: Sheet, known: Sequence[Shelved]) -> Node:
    items = [
        el(
            "li",
            el("b", SEEN[one]),
            el("span", to_do(one, sheet)),
            el("code", COMMANDS[one]) if one in COMMANDS else None,
        )
        for one in sheet.advice
    ]
    items += [_newer(one) for one in known if _is_newer(one, sheet)]
    if not items:
        return el("p", _("Nothing to measure or mend."), class_="done")
    return el("ul", *items, class_="advice")


def _is_newer(one: Shelved, sheet: Sheet) -> bool:
    """Whether the library means another profile for this launcher than it was run with last."""
    its = (one.profile.name, one.profile.serial) == (sheet.name, sheet.serial)
    return its and one.used and one.profile_hash != sheet.tuned[-1].profile_hash


def _newer(one: Shelved) -> Node:
    name = f"club/{one.version.name}"
    return el(
        "li",
        el("b", _("The library has another profile for it than it was run with last.")),
        el("span", _("Name it in programs, and set the launcher up with it:")),
        el("code", f"feedscript set-up --launcher {name} --on ADDRESS"),
    )


def _weeks(sheet: Sheet, tongue: Tongue) -> Node:
    drawn = [_shown(one, tongue) for one in pictures(sheet)]
    figures = table(
        [_("Balls"), _("Troubles"), _("Landings"), _("Off the aim"), _("Scatter")],
        [(short_day(week.begins_utc_s), _row(week)) for week in reversed(sheet.weeks)],
        _("Each week from the day on that it says"),
    )
    body = el("details", el("summary", _("The same in figures")), figures)
    return section("weeks", _("Over the weeks"), el("div", *drawn, class_="two"), body)


def _shown(picture: Picture, tongue: Tongue) -> Node:
    svg = base64.b64encode(write(picture.drawn, 0, tongue).encode()).decode()
    source = f"data:image/svg+xml;base64,{svg}"
    drawn = el("img", src=source, alt=picture.words, class_="drawn")
    return el("figure", el("figcaption", picture.title), drawn)


def _row(week: Week) -> list[str]:
    off = "–" if week.off_m is None else _off(week.off_m)
    spread = "–" if week.spread is None else figure(week.spread, 2)
    return [str(week.balls), str(week.bad), str(week.landings), off, spread]


def _off(off_m: tuple[float, float]) -> str:
    return _("{right:+.2f} m right, {beyond:+.2f} m beyond", right=off_m[0], beyond=off_m[1])


def _tunings(sheet: Sheet, known: Sequence[Shelved]) -> Node:
    heads = [_("From"), _("To"), _("Elevation"), _("Azimuth"), _("Drag"), _("Lift")]
    rows = [
        el(
            "tr",
            el("th", _profile(one, known), scope="row"),
            *[el("td", value) for value in _numbers(one)],
        )
        for one in reversed(sheet.tuned)
    ]
    head = el("tr", el("td"), *[el("th", one, scope="col") for one in heads])
    about = el("p", _("Offsets in degrees; factors over the flight model's"), class_="hint")
    title = _("The profiles that it was run with")
    inside = scrolling(el("table", head, *rows, aria_labelledby="tunings"), title)
    return section("tunings", title, about, inside)


def _numbers(one: Tuned) -> list[str]:
    its = one.calibration
    return [
        short_day(one.first_utc_s),
        short_day(one.last_utc_s),
        figure(its.elevation_offset_deg, 2),
        figure(its.azimuth_offset_deg, 2),
        figure(its.drag_factor, 3),
        figure(its.lift_factor, 3),
    ]


def launcher_pages(desk: Desk, pages: LauncherPages) -> list[BaseRoute]:
    """What a server mounts."""
    make = Routes(desk)
    return [
        make.get(PLACE, pages.listed, may_keep_library, queue=_QUEUE),
        make.get(f"{PLACE}/{{launcher}}", pages.one, may_keep_library, queue=_QUEUE),
    ]
