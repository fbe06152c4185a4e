"""Bad places for a library, made inside a child process: a small disk, a disk that cannot be written.

A mount belongs to the child's own view of the file system and goes with it. Where a container allows
none, a limit on the size of files stands for the small disk, and another user for the disk that
cannot be written.
"""

from __future__ import annotations

import ctypes
import os
import resource
import signal
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from tests.killing.server import OUT

_NEW_MOUNTS, _NEW_USER = 0x00020000, 0x10000000
_READ_ONLY, _REMOUNT, _BIND, _RECURSIVE, _PRIVATE = 1, 32, 4096, 16384, 1 << 18
NOBODY = 65534


def reviewer(*arguments: object) -> tuple[int, str]:
    """Run `reviewer` in this child; its exit code and all that it printed."""
    from reviewer.cli import main

    os.truncate(OUT, 0)
    code = main([str(argument) for argument in arguments])
    return code, Path(OUT).read_text("utf-8")


def small_disk(folder: Path, size: int) -> bool:
    """Make the (empty) folder a disk of so many bytes; False where no disk can be mounted."""
    return _own_mounts() and _mount("tmpfs", folder, "tmpfs", 0, f"size={size}")


def fill(folder: Path, leave: int) -> Path:
    """Fill the disk of the folder up to some bytes; returns the file that does."""
    filler = folder / "film.bin"
    with filler.open("wb", buffering=0) as out, suppress(OSError):
        while True:
            out.write(bytes(4096))
    os.truncate(filler, max(0, filler.stat().st_size - leave))
    return filler


def limit_files(size: int) -> Callable[[], None]:
    """No file of this process may grow over so many bytes; the result takes the limit away."""
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)  # the write then fails with EFBIG
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    return lambda: resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


def read_only(folder: Path) -> None:
    """Make the folder one that cannot be written by this process."""
    if _own_mounts():
        name = str(folder)
        if _mount(name, folder, "", _BIND, "") and _mount(
            name, folder, "", _REMOUNT | _BIND | _READ_ONLY, ""
        ):
            return
    for path in (folder, *folder.rglob("*")):
        path.chmod(path.stat().st_mode & 0o555 | 0o444 | (0o111 if path.is_dir() else 0))
    if os.geteuid() == 0:
        folder.parent.chmod(0o777)
        Path(OUT).chmod(0o666)
        os.setgroups([])
        os.setgid(NOBODY)
        os.setuid(NOBODY)


def _own_mounts() -> bool:
    """Take a view of the mounts of one's own: as root by right, else as the root of a user space."""
    libc = ctypes.CDLL(None, use_errno=True)
    user, group = os.getuid(), os.getgid()
    if libc.unshare(_NEW_MOUNTS) != 0:
        if libc.unshare(_NEW_USER | _NEW_MOUNTS) != 0:
            return False
        with suppress(OSError):
            Path("/proc/self/setgroups").write_text("deny")
            Path("/proc/self/uid_map").write_text(f"0 {user} 1")
            Path("/proc/self/gid_map").write_text(f"0 {group} 1")
    return _mount("none", Path("/"), "", _RECURSIVE | _PRIVATE, "")


def _mount(source: str, target: Path, kind: str, flags: int, options: str) -> bool:
    libc = ctypes.CDLL(None, use_errno=True)
    texts = (source.encode(), os.fsencode(target), kind.encode() or None)
    return bool(libc.mount(*texts, ctypes.c_ulong(flags), options.encode() or None) == 0)
