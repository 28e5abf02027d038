"""The machine that a benchmark ran on."""

import os
import platform
from pathlib import Path


def machine() -> str:
    """The machine in a line."""
    info = Path("/proc/cpuinfo")
    lines = info.read_text().splitlines() if info.exists() else []
    names = [line.split(":")[1].strip() for line in lines if "model name" in line] or [platform.machine()]
    return f"{names[0]}, {os.cpu_count()} cores, Python {platform.python_version()}"
