"""What whoever records other people is told: in the help of `listen`, and before a recording."""

from typing import Final

LEAVE: Final = "To record other people, ask them first; where you are, the law may demand it."
