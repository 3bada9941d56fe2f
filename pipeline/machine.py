"""What this machine lets a run use: its memory and its cores, or what its container allows if that is less.

Two variables of the environment say otherwise: ``AIRHOURS_MEMORY``, such as ``4GB``, and ``AIRHOURS_THREADS``.
"""

from __future__ import annotations

import os
import re
from contextlib import suppress
from pathlib import Path

from pipeline.errors import StoreError

MEMORY, THREADS = "AIRHOURS_MEMORY", "AIRHOURS_THREADS"
MOST = 768 << 20  # of the engine: what does not fit goes to the disk, which costs the sort of a large log little
LEAST = 256 << 20
READING = 384 << 20  # of the engine while pages are drawn, which the program beside it has room for then
SHARE = 4  # of the machine's memory: the program beside the engine needs some, and others are on the machine too
SIZE = re.compile(r"[1-9][0-9]{0,6} ?(?:[KMGT]i?B)", re.IGNORECASE)
GROUPS = Path("/sys/fs/cgroup")
LIMITS = ("memory.max", "memory/memory.limit_in_bytes")  # of the second and the first generation of control groups
QUOTAS = ("cpu.max",)


def engine_memory(most: int = MOST) -> str:
    """The memory the engine may use before it spills to the disk, as it spells sizes.

    A quarter of what the machine or its container has, from 256 MiB to ``most`` bytes, or what ``AIRHOURS_MEMORY``
    says.

    Raises:
        StoreError: ``AIRHOURS_MEMORY`` is no size.
    """
    said = os.environ.get(MEMORY, "").strip()
    if said and not SIZE.fullmatch(said):
        raise StoreError(f'The environment variable {MEMORY} is "{said[:60]}". Expected a size such as 4GB.')
    return said or f"{min(max(memory_bytes() // SHARE, LEAST), most) >> 20}MiB"


def engine_threads() -> int:
    """How many threads the engine may use: a core each, or what ``AIRHOURS_THREADS`` says.

    Raises:
        StoreError: ``AIRHOURS_THREADS`` is no whole number from 1 to 1024.
    """
    said = os.environ.get(THREADS, "").strip()
    if said and not (said.isascii() and said.isdigit() and 1 <= int(said) <= 1024):
        raise StoreError(
            f'The environment variable {THREADS} is "{said[:60]}". Expected a whole number from 1 to 1024.'
        )
    return int(said) if said else core_count()


def memory_bytes(groups: Path = GROUPS) -> int:
    """Bytes of memory of this machine, or of its container if that has less; 4 GiB where the system does not say."""
    sizes = [size for name in LIMITS if (size := _number(groups / name)) is not None]
    with suppress(AttributeError, ValueError, OSError):  # a system without sysconf
        sizes.append(os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES"))
    return min(sizes, default=4 << 30)


def core_count(groups: Path = GROUPS) -> int:
    """Cores that this process may use, a part of one counted as one; fewer where its container has a quota."""
    try:
        count = len(os.sched_getaffinity(0))
    except AttributeError:  # a system without affinities
        count = os.cpu_count() or 1
    for name in QUOTAS:
        with suppress(OSError, ValueError):
            quota, period = (groups / name).read_text().split()
            count = min(count, max(1, -(-int(quota) // int(period))))  # "max" is no number, and no quota
    return count


def _number(path: Path) -> int | None:
    """The whole number in the file; None where there is none, or it says "max"."""
    with suppress(OSError, ValueError):
        return int(path.read_text())
    return None
