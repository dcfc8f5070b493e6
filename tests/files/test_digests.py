"""SHA-256 as the site works it out, against the standard's own examples and against Python's hashlib."""

import hashlib
import io

import pytest

from intake.files import storage

# Source: NIST, "SHA-256 examples with intermediate values" for FIPS 180-4 (one block, two blocks), and the long message
# of a million times "a" in FIPS 180-2, appendix B.3.
NIST = [
    (b"abc", "ba7816bf 8f01cfea 414140de 5dae2223 b00361a3 96177a9c b410ff61 f20015ad"),
    (
        b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
        "248d6a61 d20638b8 e5c02693 0c3e6039 a33ce459 64ff2167 f6ecedd4 19db06c1",
    ),
    (b"a" * 1_000_000, "cdc76e5c 9914fb92 81a1c7e2 84d73e67 f1809a48 a497200e 046d39cc c7112cd0"),
]


@pytest.mark.parametrize(("message", "digest"), NIST)
def test_the_digest_of_a_stream_is_that_of_the_standard(message, digest):
    assert storage.sha256_of_stream(io.BytesIO(message)) == digest.replace(" ", "")


@pytest.mark.parametrize(("message", "digest"), NIST)
def test_the_digest_of_a_file_is_that_of_the_standard(message, digest, tmp_path):
    path = storage.write(tmp_path / "message", message)
    assert storage.sha256_of_path(path) == digest.replace(" ", "")


@pytest.mark.parametrize("size", [0, 1, storage.BLOCK - 1, storage.BLOCK, storage.BLOCK + 1, 3 * storage.BLOCK])
def test_the_blocks_in_which_a_file_is_read_do_not_change_its_digest(size):
    content = bytes(range(256)) * (size // 256 + 1)
    told = []
    digest = storage.sha256_of_stream(io.BytesIO(content[:size]), told.append)
    assert digest == hashlib.sha256(content[:size]).hexdigest()
    assert sum(told) == size
