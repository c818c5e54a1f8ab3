import tracemalloc
from pathlib import Path

import mutagen
import pytest
import soundfile
from marked_files import FRAMES, write_marked
from mutagen.ogg import OggPage

from throwcount.sounds.files.tags import BLOCK, add_ogg_fields, checksum, replace_front


def pages(path: Path) -> list[tuple[OggPage, bytes]]:
    """Return every page as mutagen reads it, with its bytes in the file."""
    data = path.read_bytes()
    found = []
    with path.open("rb") as file:
        while file.tell() < len(data):
            start = file.tell()
            page = OggPage(file)
            found.append((page, data[start : file.tell()]))
    return found


def test_the_checksum_is_that_of_the_standard() -> None:
    # By its definition in RFC 3533: polynomial 04C11DB7, no reflection, from 0, not inverted.
    for data in (b"", b"\0", b"OggS", bytes(range(256))):
        register = 0
        for byte in data:
            register ^= byte << 24
            for _ in range(8):
                carry = register & 0x80000000
                register = (register << 1 ^ (0x04C11DB7 if carry else 0)) & 0xFFFFFFFF
        assert checksum(data) == register


@pytest.mark.parametrize(
    "packet",
    # Where packets just fill segments of 255 bytes, and segments pages of 255.
    [255 * whole + over for whole in (1, 2, 254, 255, 256, 510) for over in (-1, 0, 1)],
)
def test_a_comment_of_any_length_is_laid_out(tmp_path: Path, packet: int) -> None:
    path = write_marked(tmp_path, "ogg", "", ())
    before = pages(path)
    comment = before[1][0].packets[0]
    field = "A=" + "x" * (packet - len(comment) - 4 - 2)
    add_ogg_fields(path, [field])
    after = pages(path)
    assert len(OggPage.to_packets([page for page, _ in after][1:-1], strict=False)[0]) == packet
    # mutagen makes every page anew, with its checksum: it is the one in the file.
    assert [page.write() for page, _ in after] == [data for _, data in after]
    assert [page.sequence for page, _ in after] == list(range(len(after)))
    assert [page.position for page, _ in after][-3:] == [page.position for page, _ in before][-3:]
    assert after[-1][0].last
    assert mutagen.File(path).tags["a"] == [field[2:]]
    assert soundfile.info(path).frames == FRAMES


def test_a_page_on_which_no_packet_ends_says_so(tmp_path: Path) -> None:
    # RFC 3533, section 6: its position is -1, and a page that begins within a packet has a flag.
    path = write_marked(tmp_path, "ogg", "", ())
    add_ogg_fields(path, ["A=" + "x" * 150_000])
    first, second, third = (page for page, _ in pages(path)[1:4])
    assert (first.position, first.continued, first.complete) == (-1, False, False)
    assert (second.position, second.continued, second.complete) == (-1, True, False)
    assert (third.position, third.continued) == (0, True)


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
