"""The process that asks which devices there are: a broken sound system can bring a process down."""

from typing import IO, NoReturn

from throwcount.sounds.child_process import read_message, run_between_pipes, write_message
from throwcount.sounds.errors import DeviceError
from throwcount.sounds.output.devices import inputs, outputs
from throwcount.sounds.output.messages import Refused


def answer(orders: IO[bytes], reports: IO[bytes]) -> None:
    """Answer with the devices of the kind asked for, or with `Refused`."""
    kind = read_message(orders)
    try:
        write_message(reports, outputs() if kind == "output" else inputs())
    except DeviceError as error:
        write_message(reports, Refused(str(error)))


def main() -> NoReturn:
    """Answer on standard output what standard input asks."""
    run_between_pipes(answer)


if __name__ == "__main__":
    main()
