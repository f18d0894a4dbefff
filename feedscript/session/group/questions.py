"""Questions a coach may ask a player: guided discovery, never an order.

A small set in our own wording. A coach may keep another in ``questions.toml`` in the user's
configuration folder; what that file holds replaces the list of that name.
"""

# No postponed annotations here: the file's keys are made from these types as they stand.

import os
from pathlib import Path
from typing import Annotated, TypeAlias

import msgspec
import platformdirs
from msgspec import UNSET, Meta, UnsetType

from feedscript.diagnostics import Diagnostic, Page
from feedscript.session.group.tally import Notice, NoticeKind
from feedscript.toml_file import read_toml
from feedscript.tongues.text import _
from feedscript.visible import on_one_line

BAD_QUESTIONS = Page(
    slug="bad-questions",
    title="The file of questions cannot be used",
    why=(
        "`questions.toml` holds lists of texts named `net`, `long`, `left`, `right` and `streak`, "
        "each of 1 to 200 characters. It lies in the configuration folder: on Linux "
        "`~/.config/feedscript/`, on macOS `~/Library/Application Support/feedscript/`, on Windows "
        "`%LOCALAPPDATA%\\feedscript\\`. A list that is missing keeps the questions that come with "
        "feedscript."
    ),
)

QUESTIONS: dict[str, tuple[str, ...]] = {
    "net": (
        _("How high over the net did that one want to go?"),
        _("Where was the ball, compared with your hip, when you met it?"),
        _("What did your racket face look at as the ball left it?"),
        _("What would you change to give the next one a metre of air over the net?"),
    ),
    "long": (
        _("Where over the net would you aim if you swung just as fast?"),
        _("What did you feel the ball do on your strings?"),
        _("How could the ball come down sooner without you slowing down?"),
        _("Were you moving back, still or forward when you hit it?"),
    ),
    "left": (
        _("Did you meet it earlier or later than you meant to?"),
        _("Where did your chest look when you hit?"),
        _("Which part of the ball did you send your strings through?"),
        _("How much room was there between you and the ball?"),
    ),
    "right": (
        _("When in your swing did you meet that one?"),
        _("Where did your front foot point?"),
        _("What would the ball have done if you had waited a little longer?"),
        _("How close to you was it when you struck it?"),
    ),
    "streak": (
        _("What is the same in all of these?"),
        _("What do you pay attention to just now?"),
        _("How would you tell a friend to do that?"),
        _("What could you try now that would still land in?"),
    ),
}


Asked: TypeAlias = Annotated[
    tuple[Annotated[str, Meta(min_length=1, max_length=200, pattern=r"\S")], ...],
    Meta(min_length=1, examples=[["How high over the net did that one want to go?"]]),
]


class OwnQuestions(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A coach's own questions for one player. A list that is missing keeps the questions that come
    with feedscript."""

    net: Asked | UnsetType = UNSET  # after two balls into the net
    long: Asked | UnsetType = UNSET  # after two balls that were too long
    left: Asked | UnsetType = UNSET  # after two balls wide to the left
    right: Asked | UnsetType = UNSET  # after two balls wide to the right
    streak: Asked | UnsetType = UNSET  # after five balls in court in a row


def question_for(notice: Notice, questions: dict[str, tuple[str, ...]] | None = None) -> str:
    """A question that fits what was noticed; each further time another one."""
    key = "streak" if notice.kind is NoticeKind.STREAK else notice.result.value
    texts = (questions or QUESTIONS)[key]
    step = notice.running // 5 - 1 if notice.kind is NoticeKind.STREAK else notice.running - 2
    return texts[step % len(texts)]


def default_questions_path() -> Path:
    """Where a coach's own questions lie."""
    return platformdirs.user_config_path("feedscript", appauthor=False) / "questions.toml"


def load_questions(path: Path) -> tuple[dict[str, tuple[str, ...]], tuple[Diagnostic, ...]]:
    """The questions to use: the coach's own where the file has them. A missing file is fine; of one
    that cannot be used, nothing is used.

    Each mistake names its file and line in its message too: a lesson's screens show no more of a
    diagnostic than message and fix.
    """
    if not os.path.lexists(path):
        return dict(QUESTIONS), ()
    reading = read_toml(path, OwnQuestions, BAD_QUESTIONS)
    own = {} if reading.value is None else msgspec.to_builtins(reading.value)
    return {**QUESTIONS, **own}, tuple(_with_place(one, path) for one in reading.diagnostics)


def _with_place(diagnostic: Diagnostic, path: Path) -> Diagnostic:
    where = _from_home(path)
    if diagnostic.span is not None:
        where += f", line {diagnostic.span.line}"
    message = f"your own questions ({on_one_line(where)}): {diagnostic.message}"
    return msgspec.structs.replace(diagnostic, message=message)


def _from_home(path: Path) -> str:
    """The path as one types it. A journal keeps it and may travel: whose home it is stays out."""
    try:
        return f"~/{path.relative_to(Path.home()).as_posix()}"
    except (ValueError, RuntimeError):  # elsewhere, or nobody's home is known
        return str(path)
