"""Whatever bytes a file holds, opening it gives a programme or an error of ours."""

from __future__ import annotations

import contextlib
import gzip
import tempfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dialtrue.domain.errors import DialtrueError
from tests.support.folders import SITE, SITES_HEADER, opened

HEADERS = {
    "sites": SITES_HEADER.encode(),
    "reads": b"endpoint_serial,port,at,index,flag",
    "fittings": b"meter_serial,endpoint_serial,fitted_at,removed_at,weight_set,index_digits",
    "use_history": b"meter_serial,start,end,volume,unit,estimated",
}
PIECES = st.sampled_from(
    [b",", b"\n", b"\r\n", b"\r", b'"', b"E1", b"00123", b"2026-01-01T00:00Z", b"31/12/2025", b"03/04/2026 1:05 PM",
     b"1e5", b"9" * 25, b"-1", b"nan", b"1e400", b"\xc3\xa9", b"\xff", b"\x00", b" ", b";", b"gal", b"2026-02-30",
     b"0000-00-00", b"9999-12-31T23:59:59Z", b"1e-999", b".", b"+", b"estimated", SITE.encode(),
     b"\xe2\x80\xa8", b"\xef\xbb\xbf"]
)  # fmt: skip


def take(name: str, content: bytes) -> None:
    """Open a folder with one such file and pull its reads, with and without every repair accepted."""
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / name).write_bytes(content)
        (Path(folder) / "programme.toml").write_text('timezone = "America/Chicago"')
        for accept in ((), ("all",)):
            with contextlib.suppress(DialtrueError):
                programme = opened(Path(folder), accept=accept)
                if programme.reads is not None:
                    for batch in programme.reads.batches():
                        assert len(batch.index) == len(batch.at_us) == len(batch.endpoint)
                        assert int(batch.endpoint.min()) >= 0


@pytest.mark.parametrize(
    "name", ["sites.csv", "reads.csv", "sites.csv.gz", "reads.parquet", "sites.parquet", "sites.xlsx"]
)
@settings(max_examples=40, deadline=None)
@given(content=st.binary(max_size=400))
def test_random_bytes_give_an_error_of_ours(name: str, content: bytes) -> None:
    take(name, content)


@pytest.mark.parametrize("table", sorted(HEADERS))
@settings(max_examples=150, deadline=None)
@given(pieces=st.lists(PIECES, max_size=40))
def test_spoilt_rows_under_a_good_header_give_an_error_of_ours(table: str, pieces: list[bytes]) -> None:
    take(f"{table}.csv", HEADERS[table] + b"\n" + b"".join(pieces))


@settings(max_examples=40, deadline=None)
@given(cut=st.integers(0, 400), flip=st.integers(0, 399), mask=st.integers(1, 255))
def test_spoilt_gzip_gives_an_error_of_ours(cut: int, flip: int, mask: int) -> None:
    whole = bytearray(gzip.compress(HEADERS["reads"] + b"\n" + b"E1,1,2026-01-01T00:00Z,5,\n" * 500, mtime=0))
    whole[flip % len(whole)] ^= mask
    take("reads.csv.gz", bytes(whole[: max(1, cut)]))


@settings(max_examples=60, deadline=None)
@given(content=st.binary(max_size=200) | st.text(max_size=100).map(lambda text: f"timezone = {text!r}".encode()))
def test_any_programme_file_gives_an_error_of_ours(content: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "sites.csv").write_text(f"{SITES_HEADER}\n{SITE}\n")
        (Path(folder) / "programme.toml").write_bytes(content)
        with contextlib.suppress(DialtrueError):
            opened(Path(folder))
