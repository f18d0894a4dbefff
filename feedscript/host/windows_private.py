"""Windows' lists of who may use a file.

Written as SDDL (Microsoft, "Security Descriptor Definition Language", 2021): a protected list,
which takes over nothing from the folder above (P), with full access (FA) for the owner (OW), the
administrators (BA) and the system (SY).
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

if sys.platform != "win32":
    raise ImportError("these are Windows' own")

import ctypes
from ctypes import wintypes

_FILE = "D:P(A;;FA;;;OW)(A;;FA;;;BA)(A;;FA;;;SY)"
#: What is made inside takes it over.
_FOLDER = "D:P(A;OICI;FA;;;OW)(A;OICI;FA;;;BA)(A;OICI;FA;;;SY)"

_REVISION = 1
_DACL = 0x4  # DACL_SECURITY_INFORMATION
_GENERIC_WRITE, _CREATE_NEW = 0x40000000, 1
_NO_HANDLE = wintypes.HANDLE(-1).value
_NO_LISTS = (1, 50)  # ERROR_INVALID_FUNCTION, ERROR_NOT_SUPPORTED: a disk that knows no owners


class _Attributes(ctypes.Structure):
    """SECURITY_ATTRIBUTES."""

    _fields_ = (
        ("length", wintypes.DWORD),
        ("descriptor", wintypes.LPVOID),
        ("inherits", wintypes.BOOL),
    )


_kernel = ctypes.WinDLL("kernel32", use_last_error=True)
_advapi = ctypes.WinDLL("advapi32", use_last_error=True)
_advapi.ConvertStringSecurityDescriptorToSecurityDescriptorW.argtypes = (
    wintypes.LPCWSTR,
    wintypes.DWORD,
    ctypes.POINTER(wintypes.LPVOID),
    wintypes.LPVOID,
)
_advapi.SetFileSecurityW.argtypes = (wintypes.LPCWSTR, wintypes.DWORD, wintypes.LPVOID)
_kernel.CreateFileW.restype = wintypes.HANDLE
_kernel.CreateFileW.argtypes = (
    wintypes.LPCWSTR,
    wintypes.DWORD,
    wintypes.DWORD,
    ctypes.POINTER(_Attributes),
    wintypes.DWORD,
    wintypes.DWORD,
    wintypes.HANDLE,
)
_kernel.CreateDirectoryW.argtypes = (wintypes.LPCWSTR, ctypes.POINTER(_Attributes))
_kernel.CloseHandle.argtypes = (wintypes.HANDLE,)
_kernel.LocalFree.argtypes = (wintypes.LPVOID,)


def keep_private(path: Path) -> None:
    """Make the file, private from its first moment on; give one that is there this list. Raises
    OSError."""
    with _descriptor(_FILE) as descriptor:
        if os.path.lexists(path):
            _see(_advapi.SetFileSecurityW(str(path), _DACL, descriptor), path)
            return
        attributes = _Attributes(ctypes.sizeof(_Attributes), descriptor, False)
        made = _kernel.CreateFileW(
            str(path), _GENERIC_WRITE, 0, ctypes.byref(attributes), _CREATE_NEW, 0, None
        )
        _see(made != _NO_HANDLE, path)
        _kernel.CloseHandle(made)


def make_folder(folder: Path) -> None:
    """A folder that is private with all that will lie in it. Raises OSError."""
    with _descriptor(_FOLDER) as descriptor:
        attributes = _Attributes(ctypes.sizeof(_Attributes), descriptor, False)
        _see(_kernel.CreateDirectoryW(str(folder), ctypes.byref(attributes)), folder)


@contextmanager
def _descriptor(words: str) -> Iterator[wintypes.LPVOID]:
    found = wintypes.LPVOID()
    made = _advapi.ConvertStringSecurityDescriptorToSecurityDescriptorW(
        words, _REVISION, ctypes.byref(found), None
    )
    if not made:
        raise ctypes.WinError(ctypes.get_last_error())
    try:
        yield found
    finally:
        _kernel.LocalFree(found)


def _see(done: bool, path: Path) -> None:
    """Raise OSError where it was not done, unless the disk knows no owners."""
    number = ctypes.get_last_error()
    if not done and number not in _NO_LISTS:
        raise OSError(None, ctypes.FormatError(number).strip(), str(path), number)
