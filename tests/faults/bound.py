"""Work done in a process whom permissions bind, whoever runs the tests.

Root writes where it likes because of three capabilities, and they can be given up without becoming somebody else. That
works in a user namespace too, where no other user is known to become.
"""

from __future__ import annotations

import ctypes
import os
import select
import signal
from collections.abc import Callable
from pathlib import Path

from refarchive.errors import RefArchiveError

LONGEST_S = 300
_VERSION = 0x20080522  # linux/capability.h, _LINUX_CAPABILITY_VERSION_3: two words of 32 bits
_GIVEN_UP = 1 << 1 | 1 << 2 | 1 << 3  # CAP_DAC_OVERRIDE, CAP_DAC_READ_SEARCH, CAP_FOWNER


def give_up(folder: Path) -> None:
    """Be bound by permissions from now on, in this process; `folder` is where that is tried out.

    Raises RuntimeError, with what to do, where this system leaves root unbound.
    """
    if os.geteuid() != 0:
        return
    library = ctypes.CDLL(None, use_errno=True)
    head = (ctypes.c_uint32 * 2)(_VERSION, 0)
    words = (ctypes.c_uint32 * 6)()  # effective, permitted, inheritable; the low half, then the high one
    if library.capget(head, words) == 0:
        for number in range(3):
            words[number] &= ~_GIVEN_UP
        library.capset(head, words)
    shut = folder / "shut"
    shut.mkdir()
    shut.chmod(0o555)
    try:
        (shut / "written").touch()
    except PermissionError:
        return
    finally:
        shut.chmod(0o755)
        (shut / "written").unlink(missing_ok=True)
        shut.rmdir()
    raise RuntimeError(
        "Permissions do not bind root here, even without its capabilities. Run these tests as another user, or on a "
        "disk that keeps permissions."
    )


def told_by(work: Callable[[], object], folder: Path) -> str:
    """Do something bound by permissions: the named problem it ended in, or "nothing went wrong".

    In a process forked from this one, which has everything loaded. Raises RuntimeError as `give_up` does, and
    TimeoutError for work that hangs.
    """
    reading, writing = os.pipe()
    child = os.fork()
    if not child:
        told = "nothing went wrong"
        try:
            give_up(folder)
            work()
        except RefArchiveError as error:
            told = f"{error.problem} {error.next_step}"
        except BaseException as error:
            told = f"{type(error).__name__}: {error}"
        os.write(writing, told.encode())
        os._exit(0)
    os.close(writing)
    with os.fdopen(reading, "rb") as pipe:
        ended = bool(select.select([pipe], [], [], LONGEST_S)[0])
        if not ended:
            os.kill(child, signal.SIGKILL)
        told = pipe.read().decode()
    os.waitpid(child, 0)
    if not ended:
        raise TimeoutError(f"It had not ended after {LONGEST_S} s.")
    if told.startswith("RuntimeError"):
        raise RuntimeError(told)
    return told
