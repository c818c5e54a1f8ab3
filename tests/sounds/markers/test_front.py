import tracemalloc
from pathlib import Path

import pytest

from sounds.markers.front import BLOCK, replace_front


@pytest.mark.parametrize("size", [0, 1, 5, BLOCK - 1, BLOCK, BLOCK + 1, 3 * BLOCK + 7])
@pytest.mark.parametrize(("length", "front"), [(0, b""), (0, b"new"), (4, b"just"), (4, b"longer")])
def test_what_follows_the_front_moves_back(
    tmp_path: Path, size: int, length: int, front: bytes
) -> None:
    path = tmp_path / "file"
    rest = bytes(index * 7 % 251 for index in range(min(size, 2000))) * (size // 2000 + 1)
    rest = rest[:size]
    path.write_bytes(b"old!"[:length] + rest)
    replace_front(path, length, front)
    assert path.read_bytes() == front + rest


def test_memory_does_not_grow_with_the_file(tmp_path: Path) -> None:
    path = tmp_path / "file"
    with path.open("wb") as file:
        file.truncate(40 * BLOCK)
        file.seek(0, 2)
        file.write(b"end")
    tracemalloc.start()
    try:
        replace_front(path, 0, b"front")
        peak = tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()
    assert peak < 4 * BLOCK
    assert path.stat().st_size == 40 * BLOCK + len(b"frontend")
    with path.open("rb") as file:
        assert file.read(8) == b"front\0\0\0"
        file.seek(-5, 2)
        assert file.read() == b"\0\0end"
