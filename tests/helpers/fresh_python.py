"""Runs code in an interpreter of its own, whose limits and signals are nobody else's."""

import subprocess
import sys
import textwrap
from pathlib import Path

ROOT = Path(__file__).parents[2]


def printed_by(code: str) -> str:
    """Return what `code`, indented or not, prints; it has to end well."""
    command = [sys.executable, "-c", textwrap.dedent(code)]
    return subprocess.run(command, capture_output=True, text=True, check=True, cwd=ROOT).stdout
