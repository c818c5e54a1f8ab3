"""What every test may use."""

import os
import signal
from collections.abc import Callable, Iterator

import pytest
from hypothesis import HealthCheck, settings
from sound_server import SoundServer, missing_parts

REQUIRE_ALL = "THROWCOUNT_REQUIRE_ALL"
TRIES = int(os.environ.get("THROWCOUNT_TRIES", "3"))

# How quick an example is depends on what else the machine does, and is not judged.
# A folder that all examples of a test share is meant so: each of them writes it anew.
settings.register_profile(
    "unhurried",
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture],
)
settings.load_profile("unhurried")


def pytest_configure() -> None:
    """Take signals as at a terminal: what runs in the background may have been told to ignore them.

    What is ignored is ignored in every process that a test starts, and Ctrl-C is tried in many.
    """
    signal.signal(signal.SIGINT, signal.default_int_handler)
    for name in ("SIGHUP", "SIGQUIT"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_DFL)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Try what plays on a sound server up to `TRIES` times.

    A shared machine may stand still for longer than sound is kept ready, and so may the server or
    the recorder, which the player does not see. What the program does wrong each time shows in
    every try; what it does wrong by chance may not, so that new attempts are listed at the end.
    """
    for item in items:
        if "sound_server" in getattr(item, "fixturenames", ()):
            item.add_marker(pytest.mark.flaky(reruns=TRIES - 1, only_rerun=["AssertionError"]))


@pytest.fixture(scope="session")
def require() -> Callable[[object, str], None]:
    """`require(condition, reason)` skips where a part of the system is missing.

    Where everything has to be there, as on the machine that checks each change, it fails.
    """

    def checked(condition: object, reason: str) -> None:
        if condition:
            return
        if os.environ.get(REQUIRE_ALL) == "1":
            pytest.fail(f"{reason}, and {REQUIRE_ALL} is set")
        pytest.skip(reason)

    return checked


@pytest.fixture(scope="session")
def sound_server(
    require: Callable[[object, str], None], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[SoundServer]:
    """Give a sound server of our own that records what is played on it."""
    missing = missing_parts()
    require(not missing, f"no {' and no '.join(missing)} on this machine")
    server = SoundServer(tmp_path_factory.mktemp("sound-server"))
    yield server
    server.close()


@pytest.fixture(scope="session", autouse=True)
def _nothing_of_a_person(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Let no test depend on the settings of whoever runs it, or write to their practice log."""
    folder = tmp_path_factory.mktemp("person")
    settings = folder / "settings.toml"
    settings.touch()
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("THROWCOUNT_SETTINGS", str(settings))
        patch.setenv("THROWCOUNT_LOG", str(folder / "practice.sqlite"))
        yield
