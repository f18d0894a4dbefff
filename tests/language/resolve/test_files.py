"""``use``: beside the program or from the library, never from elsewhere, never in a circle."""

from __future__ import annotations

import pytest

from feedscript.language import read
from feedscript.language.resolve.loading import Loaded, NotLoaded, load_beside

HEAD = "feedscript 1\ncourt { surface hard }\nballs { type 2 }\n"
HEAD += "launcher { stands 1 m behind centre mark }\n"
FEED = "feed ball { land 3 m inside baseline, on centre line  speed 80 km/h }\n"


@pytest.fixture
def house(tmp_path):
    """A folder with a program's files, a library elsewhere, and a secret outside both."""
    for folder in ("home/sub", "library"):
        (tmp_path / folder).mkdir(parents=True)
    (tmp_path / "home/one.feed").write_text("feedscript 1\n" + FEED)
    (tmp_path / "home/sub/two.feed").write_text(
        'feedscript 1\nuse "../one.feed"\nfeed b = one.ball\n'
    )
    (tmp_path / "library/three.feed").write_text("feedscript 1\n" + FEED)
    (tmp_path / "secret.feed").write_text("feedscript 1\n" + FEED)
    (tmp_path / "home/link.feed").symlink_to(tmp_path / "secret.feed")
    return tmp_path


def slugs(house, uses: str, lesson: str = "") -> list[str]:
    program = house / "home/main.feed"
    text = HEAD + uses + f"\n{FEED}lesson {{ show speed of ball {lesson} }}\n"
    program.write_text(text)
    _, diagnostics = read(text, str(program), load=load_beside(program, house / "library"))
    return [d.slug for d in diagnostics]


@pytest.mark.parametrize(
    ("uses", "feed"),
    [
        ('use "one.feed"', "one.ball"),
        ('use "one.feed" as o', "o.ball"),
        ('use "sub/two.feed"', "two.b"),
        ('use "three.feed"', "three.ball"),
    ],
)
def test_files_within_reach(house, uses: str, feed: str) -> None:
    assert slugs(house, uses, f"send {feed} after 4 s") == []


@pytest.mark.parametrize(
    "path",
    [
        "../secret.feed",
        "sub/../../secret.feed",
        "/etc/passwd",
        "~/x.feed",
        "link.feed",
        "..\\\\secret.feed",
        "nothing.feed",
        "sub",
        "https://example.org/x.feed",
        "",
    ],
)
def test_nothing_outside_is_read(house, path: str) -> None:
    assert slugs(house, f'use "{path}" as far', "send far.ball after 4 s") == ["cannot-use"]


@pytest.mark.parametrize("named", ["three.feed", "three"])
@pytest.mark.parametrize("leads_to", ["nowhere", "../secret.feed"])
def test_no_shipped_file_in_place_of_one_s_own(house, leads_to: str, named: str) -> None:
    """What is called so beside the program is meant, also where it is a link that leads away."""
    (house / "home/three.feed").symlink_to(leads_to)
    assert slugs(house, f'use "{named}"', "send three.ball after 4 s") == ["cannot-use"]


def test_a_folder_of_a_shipped_file_s_name_is_no_such_file(house) -> None:
    (house / "home/three").mkdir()
    assert slugs(house, 'use "three"', "send three.ball after 4 s") == []


@pytest.fixture
def own(house):
    """A coach's own library beside the house, and a secret beside the library."""
    (house / "own/net").mkdir(parents=True)
    (house / "own/volleys.feed").write_text(
        'feedscript 1\nuse "net/near.feed"\nfeed v = near.ball\n'
    )
    (house / "own/net/near.feed").write_text("feedscript 1\n" + FEED)
    (house / "own/link.feed").symlink_to(house / "secret.feed")
    (house / "own/three.feed").write_text("feedscript 1\n" + FEED.replace("80", "60"))
    return house


def of_own(own, uses: str, lesson: str = "") -> list[tuple[str, str]]:
    program = own / "home/main.feed"
    text = HEAD + uses + f"\n{FEED}lesson {{ show speed of ball {lesson} }}\n"
    load = load_beside(program, own / "library", own / "own")
    return [(d.slug, d.message) for d in read(text, str(program), load=load)[1]]


@pytest.mark.parametrize(
    ("uses", "feed"),
    [
        ('use "my/volleys"', "volleys.v"),
        ('use "my/volleys.feed" as m', "m.v"),
        ('use "my/net/near"', "near.ball"),
        ('use "one"', "one.ball"),
        ('use "three"', "three.ball"),
    ],
)
def test_files_of_the_own_library_and_endings_left_out(own, uses: str, feed: str) -> None:
    assert of_own(own, uses, f"send {feed} after 4 s") == []


@pytest.mark.parametrize(
    "path",
    ["my/../../x", "my/../secret", "my/link", "my/nothing", "my/", "my/net", "my//etc/passwd"],
)
def test_nothing_outside_the_own_library_is_read(own, path: str) -> None:
    ((slug, message),) = of_own(own, f'use "{path}" as far', "send far.ball after 4 s")
    assert slug == "cannot-use"
    assert ("own library" in message) or ("out of" in message)


def test_a_file_of_the_own_library_takes_the_place_of_none_that_is_shipped(own) -> None:
    program = own / "home/main.feed"
    load = load_beside(program, own / "library", own / "own")
    shipped, mine = load(str(program), "three.feed"), load(str(program), "my/three")
    assert isinstance(shipped, Loaded)
    assert isinstance(mine, Loaded)
    assert "80 km/h" in shipped.text
    assert "60 km/h" in mine.text


def test_two_files_that_one_name_could_mean_are_told(own) -> None:
    (own / "home/my").mkdir()
    (own / "home/my/volleys.feed").write_text("feedscript 1\n" + FEED)
    ((slug, message),) = of_own(own, 'use "my/volleys"', "send volleys.ball after 4 s")
    assert slug == "cannot-use"
    assert "there are two" in message


def test_a_circle_of_files_is_shown_whole(house) -> None:
    (house / "home/a.feed").write_text('feedscript 1\nuse "b.feed"\n' + FEED)
    (house / "home/b.feed").write_text('feedscript 1\nuse "a.feed"\n' + FEED)
    program = house / "home/main.feed"
    text = HEAD + 'use "a.feed"\n' + FEED + "lesson { send a.ball after 4 s }\n"
    _, (found,) = read(text, str(program), load=load_beside(program, house / "library"))
    assert found.slug == "use-circle"
    assert "a.feed -> b.feed -> a.feed" in found.message


def test_a_mistake_in_a_used_file_is_placed_there(house) -> None:
    (house / "home/bad.feed").write_text("feedscript 1\nlett x = 4 s\n")
    program = house / "home/main.feed"
    text = HEAD + 'use "bad.feed"\n' + FEED + "lesson { send ball after 4 s }\n"
    _, (found,) = read(text, str(program), load=load_beside(program, house / "library"))
    assert found.span is not None
    assert (found.span.source, found.span.line) == (str(house / "home/bad.feed"), 2)


def test_many_files_end(house) -> None:
    def load(using: str, path: str) -> Loaded | NotLoaded:
        n = int(path)
        return Loaded(path, f'feedscript 1\nuse "{n + 1}" as next\n{FEED}')

    text = HEAD + 'use "1" as first\n' + FEED + "lesson { send first.ball after 4 s }\n"
    _, diagnostics = read(text, "0", load=load)
    assert [d.slug for d in diagnostics] == ["cannot-use"]
