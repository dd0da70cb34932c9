"""What bad files get: an error of ours with its code and exit code, memory bounded, no traceback."""

from __future__ import annotations

import contextlib
import gzip
import os
import tracemalloc
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pytest

from dialtrue.domain.errors import DialtrueError
from tests.support.folders import SITE, SITES_HEADER, opened, pulled, with_files

READS = "endpoint_serial,at,index\n"


def taken_whole(folder: Path) -> None:
    """Open the folder and pull its reads."""
    programme = opened(folder)
    if programme.reads is not None:
        list(programme.reads.batches())


def refusal(folder: Path) -> DialtrueError:
    """Take the folder whole; return the error that comes of it."""
    with pytest.raises(DialtrueError) as caught:
        taken_whole(folder)
    assert 10 <= caught.value.exit_code <= 19
    return caught.value


def packed(text: bytes) -> bytes:
    return gzip.compress(text, mtime=0)  # test names hold these bytes


BAD_TEXT: list[tuple[str, bytes, str, str]] = [
    ("sites.csv", b"", "EMPTY-FILE", "is empty"),
    ("sites.csv", b"\xef\xbb\xbf\r\n\r\n", "EMPTY-FILE", "is empty"),
    ("reads.csv", b"", "EMPTY-FILE", "endpoint_serial,port"),
    ("sites.csv.gz", b"", "EMPTY-FILE", "is empty"),
    ("sites.csv", SITES_HEADER.replace(",", ";").encode(), "WRONG-SEPARATOR", "semicolon"),
    ("sites.csv", SITES_HEADER.replace(",", "\t").encode(), "WRONG-SEPARATOR", "a tab"),
    ("reads.csv", b"endpoint_serial|at|index\nE|2026-01-01|1\n", "WRONG-SEPARATOR", "upright bar"),
    ("sites.csv", f"{SITES_HEADER}\n{SITE}\nS\xe9,00124,6,gal,10,gal\n".encode("latin-1"), "NOT-UTF-8", "row 3"),
    ("reads.csv", (READS + "\xe9,2026-01-01,1\n").encode("latin-1"), "NOT-UTF-8", "0xE9"),
    ("sites.csv", SITES_HEADER.encode("utf-16"), "NOT-UTF-8", "UTF-16"),
    ("sites.csv", SITES_HEADER.encode("utf-16-le"), "NOT-UTF-8", "UTF-16"),
    ("sites.csv", f"{SITES_HEADER}\n{SITE}\nS\x002,1,6,gal,10,gal\n".encode(), "NOT-TEXT", "row 3"),
    ("sites.csv", b"PK\x03\x04 a workbook under a wrong name", "NOT-TEXT", "workbook"),
    ("reads.csv", b"PAR1 a Parquet file under a wrong name", "NOT-TEXT", "Parquet"),
    ("sites.csv", b"c," * 499_000, "HEADER-TOO-LARGE", "4,000 columns"),
    ("sites.csv", b"," * 3_000_000, "HEADER-TOO-LARGE", "1,000,000 bytes"),
    ("sites.csv", f"{SITES_HEADER},site\n".encode(), "COLUMN-TWICE", "1 and 7"),
    ("sites.csv", b"site,meter,dial_digits\nS,M,6\n", "COLUMN-MISSING", "meter_serial, dial_unit"),
    ("reads.csv", b"endpoint_serial,when,index\n", "COLUMN-MISSING", "at"),
    ("sites.csv.gz", packed(SITES_HEADER.encode())[:-9], "DAMAGED-FILE", "gzip"),
    ("sites.csv.gz", b"no gzip at all", "DAMAGED-FILE", "gzip"),
    ("sites.csv.gz", packed(b"")[:11] + b"\xff" * 40, "DAMAGED-FILE", "gzip"),
    ("sites.parquet", b"", "EMPTY-FILE", "is empty"),
    ("sites.parquet", b"PAR1", "DAMAGED-FILE", "Parquet"),
    ("sites.xlsx", b"", "EMPTY-FILE", "is empty"),
    ("sites.xlsx", b"PK\x03\x04 half a workbook", "DAMAGED-FILE", "workbook"),
    ("reads.parquet", b"endpoint_serial,at,index\n", "DAMAGED-FILE", "Parquet"),
    ("programme.toml", b"timezone = ", "BAD-PROGRAMME-FILE", "not TOML"),
    ("programme.toml", b"timezone = 5", "BAD-PROGRAMME-FILE", "quote marks"),
    ("programme.toml", b"timezone = '\xff'", "BAD-PROGRAMME-FILE", "UTF-8"),
    ("programme.toml", b"timezone = 'America/Chicgo'", "UNKNOWN-TIME-ZONE", "America/Chicago"),
    ("programme.toml", b"timezone = 'chicago'", "UNKNOWN-TIME-ZONE", "America/Chicago"),
    ("programme.toml", b"timezone = '../../etc/passwd'", "UNKNOWN-TIME-ZONE", "nearest"),
    ("programme.toml", b"timezone = ''", "UNKNOWN-TIME-ZONE", "nearest"),
]


@pytest.mark.parametrize(("name", "content", "code", "says"), BAD_TEXT)
def test_bad_file_is_refused_with_its_reason(tmp_path: Path, name: str, content: bytes, code: str, says: str) -> None:
    if name == "programme.toml":
        with_files(tmp_path, sites_csv=f"{SITES_HEADER}\n{SITE}\n")
    (tmp_path / name).write_bytes(content)
    error = refusal(tmp_path)
    assert error.code == code
    assert says in str(error)
    assert name in str(error)


def test_missing_folder_and_file_for_folder(tmp_path: Path) -> None:
    assert refusal(tmp_path / "nowhere").code == "FOLDER-MISSING"
    (tmp_path / "a.csv").write_text("x")
    assert refusal(tmp_path / "a.csv").code == "FOLDER-IS-A-FILE"
    assert "a.csv" in str(refusal(tmp_path))
    assert refusal(tmp_path).code == "NO-TABLES"
    assert refusal(Path("a" * 5000)).code in ("FILE-UNREADABLE", "FOLDER-MISSING")


def test_two_files_for_one_table_say_which_to_remove(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=SITES_HEADER)
    (tmp_path / "sites.parquet").write_bytes(b"")
    os.utime(tmp_path / "sites.parquet", (1, 1))
    error = refusal(tmp_path)
    assert error.code == "TWO-FILES-FOR-ONE-TABLE"
    assert "Keep sites.csv" in str(error)
    assert "move sites.parquet" in str(error)


def test_reads_file_beside_reads_folder_is_refused(tmp_path: Path) -> None:
    with_files(tmp_path, reads_csv=READS)
    (tmp_path / "reads").mkdir()
    assert refusal(tmp_path).code == "TWO-FILES-FOR-ONE-TABLE"


def test_folder_in_place_of_a_table(tmp_path: Path) -> None:
    (tmp_path / "sites.csv").mkdir()
    assert refusal(tmp_path).code == "TABLE-IS-A-FOLDER"


def test_link_to_itself_is_unreadable(tmp_path: Path) -> None:
    (tmp_path / "sites.csv").symlink_to(tmp_path / "sites.csv")
    assert refusal(tmp_path).code == "FILE-UNREADABLE"
    loop = tmp_path / "loop"
    loop.symlink_to(loop)
    assert refusal(loop).code == "FILE-UNREADABLE"


def test_circle_of_links_in_reads_is_walked_once(tmp_path: Path) -> None:
    (tmp_path / "reads").mkdir()
    (tmp_path / "reads" / "again").symlink_to(tmp_path / "reads")
    (tmp_path / "reads" / "a.csv").write_text(READS + "E1,2026-01-01T00:00Z,1\n")
    assert len(pulled(opened(tmp_path))) == 1


def test_device_in_place_of_a_table_is_not_read(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "sites.csv")
    assert refusal(tmp_path).code == "FILE-UNREADABLE"


def endless_line(folder: Path) -> None:
    with (folder / "sites.csv").open("wb") as sink:
        sink.write(f"{SITES_HEADER}\n{SITE}\n".encode())
        for _ in range(100):
            sink.write(b"x" * 1_000_000)


def endless_line_of_reads(folder: Path) -> None:
    with (folder / "reads.csv").open("wb") as sink:
        sink.write(READS.encode())
        for _ in range(100):
            sink.write(b"7" * 1_000_000)


def bomb(folder: Path) -> None:
    with gzip.open(folder / "sites.csv.gz", "wb", compresslevel=1) as sink:
        sink.write(f"{SITES_HEADER}\n".encode())
        row = (f"{SITE}\n" * 50_000).encode()
        for _ in range(620):
            sink.write(row)


def bomb_of_zeros(folder: Path) -> None:
    with gzip.open(folder / "reads.csv.gz", "wb", compresslevel=1) as sink:
        sink.write(READS.encode())
        for _ in range(300):
            sink.write(b"0" * 1_000_000)


def workbook_bomb(folder: Path) -> None:
    with (
        zipfile.ZipFile(folder / "sites.xlsx", "w", zipfile.ZIP_DEFLATED, compresslevel=1) as book,
        book.open("xl/worksheets/sheet1.xml", "w", force_zip64=True) as sink,
    ):
        for _ in range(600):
            sink.write(b" " * 1_000_000)


@pytest.mark.parametrize(
    ("make", "code", "limit_mb"),
    [
        (endless_line, "LINE-TOO-LONG", 60),
        (endless_line_of_reads, "LINE-TOO-LONG", 60),
        (bomb, "FILE-TOO-LARGE", 1100),
        (bomb_of_zeros, "LINE-TOO-LONG", 60),
        (workbook_bomb, "FILE-TOO-LARGE", 20),
    ],
)
def test_oversized_input_is_refused_in_bounded_memory(
    tmp_path: Path, make: Callable[[Path], None], code: str, limit_mb: int
) -> None:
    make(tmp_path)
    tracemalloc.start()
    try:
        assert refusal(tmp_path).code == code
        peak_mb = tracemalloc.get_traced_memory()[1] / 1e6
    finally:
        tracemalloc.stop()
    assert peak_mb < limit_mb


def parquet_reads(folder: Path, **columns: pa.Array) -> None:
    plain = {
        "endpoint_serial": pa.array(["E1", "E2"]),
        "at": pa.array([1_770_000_000, 1_770_003_600]).cast(pa.timestamp("s")),
        "index": pa.array([1, 2]),
    }
    pq.write_table(pa.table({**plain, **columns}), folder / "reads.parquet")


@pytest.mark.parametrize(
    ("column", "values"),
    [
        ("endpoint_serial", pa.array([417733, 417734])),
        ("endpoint_serial", pa.array([[1], [2]])),
        ("at", pa.array([1, 2])),
        ("index", pa.array([True, False])),
        ("index", pa.array([{"a": 1}, {"a": 2}])),
        ("flag", pa.array([1, 2])),
    ],
)
def test_parquet_column_of_a_wrong_type_is_named(tmp_path: Path, column: str, values: pa.Array) -> None:
    parquet_reads(tmp_path, **{column: values})
    error = refusal(tmp_path)
    assert error.code == "WRONG-COLUMN-TYPE"
    assert column in str(error)


@pytest.mark.parametrize("keep", [8, 100, 300, 0.5, 0.9, -1])
def test_parquet_cut_short_is_damaged(tmp_path: Path, keep: float) -> None:
    parquet_reads(tmp_path)
    data = (tmp_path / "reads.parquet").read_bytes()
    cut = int(len(data) * keep) if isinstance(keep, float) else int(keep)
    (tmp_path / "reads.parquet").write_bytes(data[:cut])
    assert refusal(tmp_path).code == "DAMAGED-FILE"


def test_flipped_bytes_in_parquet_never_raise_anything_else(tmp_path: Path) -> None:
    parquet_reads(tmp_path)
    data = (tmp_path / "reads.parquet").read_bytes()
    rng = np.random.default_rng(5)
    for _ in range(150):
        spoilt = bytearray(data)
        for place in rng.integers(0, len(data), 3).tolist():
            spoilt[place] ^= int(rng.integers(1, 256))
        (tmp_path / "reads.parquet").write_bytes(spoilt)
        # Either it is refused with an error of ours, or enough of it stands to be read.
        with contextlib.suppress(DialtrueError):
            taken_whole(tmp_path)


def test_header_alone_loads_empty_and_is_said(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=SITES_HEADER, reads_csv=READS)
    programme = opened(tmp_path)
    assert programme.tables["sites"].num_rows == 0
    assert pulled(programme) == []
    assert "sites.csv has a header and no rows." in programme.notes
    assert "reads.csv has a header and no rows." in programme.notes


def test_open_quote_costs_its_row_only(tmp_path: Path) -> None:
    with_files(tmp_path, sites_csv=f'{SITES_HEADER}\n"S0,00122,6,gal,10,gal\n{SITE}\nS2,00124,6,gal,10,gal\n')
    programme = opened(tmp_path)
    assert programme.tables["sites"]["site"].to_pylist() == ["S1", "S2"]
    assert [(p.row, p.code) for p in programme.problems] == [(2, "QUOTE-OPEN")]
