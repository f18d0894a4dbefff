"""What every test shares: hypothesis profiles, long runs, folders of its own, nothing left."""

from __future__ import annotations

import gc
import json
import os
import shutil
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import platformdirs
import psutil
import pytest
from hypothesis import HealthCheck, settings

settings.register_profile(
    "house", deadline=None, suppress_health_check=[HealthCheck.too_slow], print_blob=True
)
settings.load_profile("house")

ROOT = Path(__file__).resolve().parent.parent


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--long", action="store_true", help="also run the tests marked long")


#: The folders of a user, as platformdirs is told of them.
USER_FOLDERS = {"XDG_DATA_HOME": "data", "XDG_CONFIG_HOME": "config", "XDG_STATE_HOME": "state"}
FOLDERS = pytest.StashKey[Path]()


def _keep_off_the_users_folders(config: pytest.Config) -> None:
    """Keys, journals and questions of whoever runs the tests are neither read nor written.

    Set for the whole run, so that processes which a test starts are held to it too. pip alone goes
    on reading the user's file: it says where packages come from.
    """
    if hasattr(config, "workerinput"):
        return  # the process that started this one has done it
    own_pip = platformdirs.user_config_path("pip") / "pip.conf"
    if own_pip.is_file():
        os.environ.setdefault("PIP_CONFIG_FILE", str(own_pip))
    config.stash[FOLDERS] = Path(tempfile.mkdtemp(prefix="feedscript-tests-"))
    for variable, name in USER_FOLDERS.items():
        os.environ[variable] = str(config.stash[FOLDERS] / name)


def pytest_unconfigure(config: pytest.Config) -> None:
    if (folders := config.stash.get(FOLDERS, None)) is not None:
        shutil.rmtree(folders, ignore_errors=True)


def pytest_configure(config: pytest.Config) -> None:
    _keep_off_the_users_folders(config)
    config.addinivalue_line("markers", "long: takes minutes; run by hand with --long")
    config.addinivalue_line(
        "markers",
        "real_time: processes that keep a launcher's watchdog content; run one at a time, for a "
        "machine that is too busy stops the launcher",
    )


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Long tests are deselected, not skipped: a skipped test of a real part fails the run."""
    if config.getoption("--long"):
        return
    long = [item for item in items if item.get_closest_marker("long")]
    if long:
        config.hook.pytest_deselected(items=long)
        items[:] = [item for item in items if not item.get_closest_marker("long")]


@pytest.fixture(scope="session", autouse=True)
def not_as_its_schema_says() -> Iterator[list[str]]:
    """What commands in this process printed as JSON that is other than the schema of its kind, and
    what they read of TOML that reader and schema do not see alike."""
    from feedscript import toml_file
    from feedscript.cli import output
    from tests.documents.held import disagreed, strays

    visible, found, held_against = output.json_visible, list[str](), toml_file.held_against

    def looked_at(text: str) -> str:
        found.extend(strays(json.loads(text)))
        return visible(text)

    def read(raw: dict[str, Any], document: Any) -> list[Any]:
        mistakes = held_against(raw, document)
        found.extend(disagreed(raw, document, refused=bool(mistakes)))
        return mistakes

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(output, "json_visible", looked_at)
        patch.setattr(toml_file, "held_against", read)
        yield found


@pytest.fixture(autouse=True)
def told_as_the_schemas_say(not_as_its_schema_says: list[str]) -> Iterator[None]:
    """Every test's documents are as their schemas say."""
    yield
    found = not_as_its_schema_says.copy()
    not_as_its_schema_says.clear()
    assert found == []


@pytest.fixture(scope="session")
def root() -> Path:
    """The top of the source tree."""
    return ROOT


def _terminals() -> set[str]:
    """Pseudo-terminals this process holds open; as far as the system tells."""
    held: set[str] = set()
    if not Path("/proc/self/fd").is_dir():
        return held
    for name in os.listdir("/proc/self/fd"):
        try:
            target = os.readlink(f"/proc/self/fd/{name}")
        except OSError:
            continue
        if target.startswith(("/dev/pts/", "/dev/ptmx")):
            held.add(f"{name}:{target}")
    return held


#: The name of a thread in which a server runs for all tests of a module.
STANDING = "standing server"


def _left_over(
    threads: set[threading.Thread], children: set[int], terminals: set[str]
) -> list[str]:
    new = [one for one in threading.enumerate() if one not in threads and one.is_alive()]
    if any(one.name == STANDING for one in threads):  # what it has ready for work is its own
        new = [one for one in new if not one.name.startswith(("AnyIO worker", "asyncio_"))]
    left = [f"thread {one.name}" for one in new]
    for child in psutil.Process().children(recursive=True):
        try:
            # What a standing process starts for itself (a browser of the module's) is its own.
            if child.pid in children or any(above.pid in children for above in child.parents()):
                continue
            if child.status() != psutil.STATUS_ZOMBIE:
                left.append(f"process {child.pid} {' '.join(child.cmdline())[:120]}")
        except psutil.NoSuchProcess:
            continue
    left += [f"pty {name}" for name in _terminals() - terminals]
    return left


@pytest.fixture(autouse=True)
def nothing_left_behind(request: pytest.FixtureRequest) -> Iterator[None]:
    """A test that leaves a thread, process or pty behind fails.

    A left task fails too: an event loop that closes with one pending reports an unraisable
    exception, and the test settings turn that into an error.
    """
    threads = set(threading.enumerate())
    children = {child.pid for child in psutil.Process().children(recursive=True)}
    terminals = _terminals()
    yield
    deadline = time.monotonic() + 3.0
    left = _left_over(threads, children, terminals)
    while left and time.monotonic() < deadline:
        gc.collect()
        time.sleep(0.02)
        left = _left_over(threads, children, terminals)
    assert not left, f"{request.node.nodeid} left behind: {left}"


@pytest.hookimpl(trylast=True)
def pytest_sessionfinish(session: pytest.Session, exitstatus: int) -> None:
    """A skipped test is a part that was not tested: the run fails and says which."""
    reporter = session.config.pluginmanager.get_plugin("terminalreporter")
    skipped = reporter.stats.get("skipped", []) if reporter is not None else []
    if skipped and exitstatus == pytest.ExitCode.OK:
        reporter.write_line(f"{len(skipped)} skipped: every part must be tested", red=True)
        session.exitstatus = pytest.ExitCode.TESTS_FAILED
