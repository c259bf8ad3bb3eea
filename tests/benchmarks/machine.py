"""Machine: what the figures were measured on, how loaded it was, and what a process of it used."""

import os
import platform
import time
from collections.abc import Iterable
from pathlib import Path

TICKS_PER_S = os.sysconf("SC_CLK_TCK")


def heading() -> str:
    """The machine in one line."""
    lines = Path("/proc/cpuinfo").read_text().splitlines()
    model = next((line.split(":", 1)[1].strip() for line in lines if "model name" in line), platform.machine())
    system = f"{platform.system()} {platform.release()}"
    return f"{os.cpu_count()} cores ({model}), Python {platform.python_version()}, {system}"


def cpu_s(pid: int) -> float:
    """Processor seconds that all threads of a process have used (user and system)."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / TICKS_PER_S


def memory_mb(pid: int, field: str = "VmHWM") -> float:
    """Resident memory of a process in MB (10⁶ bytes); its peak by default, ``VmRSS`` for now."""
    for line in Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith(field + ":"):
            return int(line.split()[1]) * 1024 / 1e6
    raise LookupError(field)


def share_out(*, server: int, clients: Iterable[int]) -> None:
    """Give the server a core of its own and the clients another, so that both meet the same conditions."""
    cores = sorted(os.sched_getaffinity(0))
    if len(cores) < 2:
        return
    for pid, core in [(server, cores[-1]), *((pid, cores[0]) for pid in clients)]:
        for thread in Path(f"/proc/{pid}/task").iterdir():
            os.sched_setaffinity(int(thread.name), {core})


class Busy:
    """How busy all cores were between its making and ``share``."""

    def __init__(self) -> None:
        self._began = _jiffies()

    def share(self) -> float:
        """The share of all cores' time that was not idle, 0 to 1."""
        idle, total = (now - then for now, then in zip(_jiffies(), self._began, strict=True))
        return 1 - idle / total if total else 0.0


def _jiffies() -> tuple[int, int]:
    fields = [int(field) for field in Path("/proc/stat").read_text().splitlines()[0].split()[1:9]]
    return fields[3] + fields[4], sum(fields)


def others_load(sample_s: float = 1.0) -> str:
    """How busy the machine is before anything of ours runs."""
    busy = Busy()
    time.sleep(sample_s)
    return f"{100 * busy.share():.0f} % busy with other work before the start, load {os.getloadavg()[0]:.2f}"
