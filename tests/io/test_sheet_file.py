"""What a job sheet was set from, read back out of its bytes."""

import json
import zlib

import pytest

from vrp.errors import InputError
from vrp.io import sheet_file


def attached(packed):
    """Return the bytes of a file with one attached stream, as ISO 32000 has them."""
    head = (
        b"%PDF-1.7\n1 0 obj\n<< /Type /EmbeddedFile /Filter /FlateDecode >>\nstream\n"
    )
    return head + packed + b"\nendstream\nendobj\n"


def packed_to_end_on(byte):
    """Return figures whose packed form ends on a byte, and that form."""
    for length in range(1_000):
        held = {"zones": [], "name": "a" * length}
        packed = zlib.compress(json.dumps(held).encode())
        if packed[-1:] == byte:
            return held, packed
    raise AssertionError(f"none of 1,000 ends on {byte!r}")


@pytest.mark.parametrize("byte", [b"\r", b"\n", b"\x00"])
def test_any_last_byte(tmp_path, byte):
    """Packed figures may end on a byte that elsewhere ends a line."""
    held, packed = packed_to_end_on(byte)
    path = tmp_path / sheet_file.NAME
    path.write_bytes(attached(packed))

    assert sheet_file.read(path) == held


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"%PDF-1.7\n", "holds no figures of a job sheet"),
        (attached(b"no packed figures"), "its figures cannot be unpacked"),
        (attached(zlib.compress(b'{"zones": [1, 2, 3]}')[:12]), "cannot be unpacked"),
    ],
)
def test_no_figures(tmp_path, content, message):
    """A sheet without whole figures is refused in a sentence."""
    path = tmp_path / sheet_file.NAME
    path.write_bytes(content)

    with pytest.raises(InputError, match=message):
        sheet_file.read(path)
