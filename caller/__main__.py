"""Runs ``throwcount`` as ``python -m throwcount.caller``."""

from throwcount.caller.main import run

if __name__ == "__main__":
    run()
