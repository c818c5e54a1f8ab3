"""Lets ``python -m caller`` stand in for ``throwcount``."""

from caller.main import run

if __name__ == "__main__":
    run()
