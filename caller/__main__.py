"""Lets ``python -m caller`` stand in for ``throwcount``."""

from throwcount.caller.main import run

if __name__ == "__main__":
    run()
