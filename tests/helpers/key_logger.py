"""A program that reads keys and writes their names to a file, one a line, until it is told to end.

``q`` ends it as usual and ``x`` by an error. It first takes its standard input for its controlling
terminal, if it leads a session that has none.
"""

import os
import sys
import time
from pathlib import Path

from throwcount.caller.terminal.screen import reading_keys


def main() -> None:
    if os.isatty(0):
        os.open(os.ttyname(0), os.O_RDWR)
    with Path(sys.argv[1]).open("a", encoding="utf-8", buffering=1) as log, reading_keys() as keys:
        log.write("ready\n")
        end = time.monotonic() + float(sys.argv[2])
        while time.monotonic() < end:
            for key in keys.read(0.02):
                log.write(f"{key}\n")
                if key == "x":
                    raise RuntimeError("an error on purpose")
                if key == "q":
                    return
        log.write(f"{time.process_time()}\n")


if __name__ == "__main__":
    main()
