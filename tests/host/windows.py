"""A system that knows nothing of POSIX, for the code under test.

Its modules cannot be imported, its functions and signals are gone, ``sys.platform`` says "win32",
and Windows' own functions are stood in for, with what they were told.

It shows that feedscript leans on nothing of POSIX and does with Windows' functions what their
documentation asks for; not that Windows does what is documented.
"""

from __future__ import annotations

import asyncio
import ctypes
import fcntl
import importlib.abc
import importlib.machinery
import os
import signal
import socket
import ssl
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from types import ModuleType, SimpleNamespace
from typing import Any

import anyio
import pytest

MODULES = frozenset(
    """_curses _posixsubprocess crypt curses fcntl grp nis ossaudiodev pty pwd readline resource
    spwd syslog termios tty""".split()  # noqa: SIM905 (a list of words)
)
FUNCTIONS = """chown fchmod fchown fork fpathconf geteuid getgid getuid killpg mkfifo nice openpty
    pathconf posix_spawn pread pwrite sched_getaffinity set_blocking setsid statvfs sysconf
    tcgetpgrp ttyname uname wait4""".split()  # noqa: SIM905
SIGNALS = """SIGHUP SIGTSTP SIGKILL SIGUSR1 SIGUSR2 SIGPIPE SIGCHLD SIGWINCH
    SIGQUIT""".split()  # noqa: SIM905


class _NoPosix(importlib.abc.MetaPathFinder):
    def find_spec(
        self, name: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        if name.partition(".")[0] in MODULES:
            raise ModuleNotFoundError(f"No module named {name!r} on this system", name=name)
        return None


class Console:
    """``msvcrt``: what is typed waits until it is asked for."""

    LK_NBLCK = 2

    def __init__(self) -> None:
        self.typed: list[str] = []

    def kbhit(self) -> bool:
        return bool(self.typed)

    def getwch(self) -> str:
        return self.typed.pop(0)

    def locking(self, descriptor: int, mode: int, count: int) -> None:
        assert mode == self.LK_NBLCK
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            raise PermissionError(13, "Permission denied") from None


class Libraries:
    """kernel32 and advapi32: files are made, and who may use them is written down by name."""

    def __init__(self) -> None:
        self.lists: dict[str, str] = {}
        self.handlers: list[Callable[[int], bool]] = []
        self.error = 0
        self._words: dict[int, str] = {}

    def load(self, name: str, use_last_error: bool = False) -> Any:
        return {"kernel32": self._kernel, "advapi32": self._advapi}[name]

    @property
    def _kernel(self) -> Any:
        return SimpleNamespace(
            CreateFileW=_function(self._create_file),
            CreateDirectoryW=_function(self._create_folder),
            CloseHandle=_function(os.close),
            LocalFree=_function(lambda _what: None),
            SetConsoleCtrlHandler=_function(self._handle),
        )

    @property
    def _advapi(self) -> Any:
        return SimpleNamespace(
            ConvertStringSecurityDescriptorToSecurityDescriptorW=_function(self._convert),
            SetFileSecurityW=_function(self._set_security),
        )

    def _convert(self, words: str, revision: int, found: Any, size: None) -> bool:
        assert revision == 1
        number = len(self._words) + 1
        self._words[number] = words
        found._obj.value = number
        return True

    def _create_file(self, name: str, access: int, share: int, attributes: Any, how: int,
                     flags: int, template: None) -> int:  # fmt: skip
        assert how == 1  # CREATE_NEW
        self._note(name, attributes._obj.descriptor)
        return os.open(name, os.O_WRONLY | os.O_CREAT | os.O_EXCL)

    def _create_folder(self, name: str, attributes: Any) -> bool:
        self._note(name, attributes._obj.descriptor)
        os.mkdir(name)
        return True

    def _set_security(self, name: str, what: int, descriptor: Any) -> bool:
        assert what == 4  # DACL_SECURITY_INFORMATION
        if self.error:
            return False
        self._note(name, descriptor.value)
        return True

    def _note(self, name: str, descriptor: int) -> None:
        self.lists[name] = self._words[descriptor]

    def _handle(self, handler: Callable[[int], bool], add: bool) -> bool:
        (self.handlers.append if add else self.handlers.remove)(handler)
        return True


def _function(work: Callable[..., Any]) -> Any:
    """A function of a library, which can be told of its argument types."""

    def call(*arguments: Any) -> Any:
        return work(*arguments)

    return call


class Windows:
    """What stands in for the system."""

    def __init__(self) -> None:
        self.console, self.libraries = Console(), Libraries()


@contextmanager
def windows() -> Iterator[Windows]:
    """This process as it would be there; modules of feedscript that were not imported before are
    imported as they are there, and forgotten afterwards."""
    system, before = Windows(), set(sys.modules)
    with pytest.MonkeyPatch.context() as patch:
        for name in MODULES & set(sys.modules):
            patch.delitem(sys.modules, name)
        patch.setattr(sys, "meta_path", [_NoPosix(), *sys.meta_path])
        patch.setitem(sys.modules, "msvcrt", system.console)
        for name in FUNCTIONS:
            patch.delattr(os, name, raising=False)
        for name in SIGNALS:
            patch.delattr(signal, name, raising=False)
        patch.setattr(signal, "SIGBREAK", signal.Signals.SIGQUIT, raising=False)
        patch.setattr(os, "O_BINARY", 0, raising=False)
        patch.setattr(socket, "SO_EXCLUSIVEADDRUSE", socket.SO_REUSEADDR, raising=False)
        patch.setattr(ssl, "enum_certificates", lambda _store: [], raising=False)
        _without_watching(patch)
        patch.setattr(ctypes, "WinDLL", system.libraries.load, raising=False)
        patch.setattr(ctypes, "WINFUNCTYPE", lambda *_types: lambda work: work, raising=False)
        patch.setattr(ctypes, "get_last_error", lambda: system.libraries.error, raising=False)
        patch.setattr(ctypes, "FormatError", lambda number: f"error {number}", raising=False)
        patch.setattr(sys, "platform", "win32")
        yield system
    for name in set(sys.modules) - before:
        if name.startswith("feedscript.host."):
            del sys.modules[name]


def _without_watching(patch: pytest.MonkeyPatch) -> None:
    """The event loop tells no signal, and its usual kind watches nothing but sockets."""

    def refused(*_arguments: object) -> None:
        raise NotImplementedError

    wait = anyio.wait_readable

    async def wait_readable(what: Any) -> None:
        if not isinstance(what, socket.socket):
            raise OSError(10038, "no socket")
        await wait(what)

    patch.setattr(asyncio.SelectorEventLoop, "add_signal_handler", refused)
    patch.setattr(anyio, "wait_readable", wait_readable)
