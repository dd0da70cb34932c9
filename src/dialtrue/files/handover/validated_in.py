"""Validated reads taken back, block by block, from the file that ``dialtrue validate`` wrote."""

from __future__ import annotations

import gzip
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Final, cast

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv as pacsv
import pyarrow.parquet as pq

from dialtrue.domain.errors.input_files import ColumnMissing, DamagedFile, FileUnreadable, UnknownSuffix
from dialtrue.domain.handover.port import ESPI_QUALITY, QUALITIES

_TYPES: Final = {
    "endpoint_serial": pa.string(),
    "port": pa.int64(),
    "at": pa.timestamp("us", tz="UTC"),
    "index": pa.int64(),
    "estimate": pa.int64(),
    "quality": pa.int64(),
}


@dataclass(frozen=True, slots=True)
class ValidatedBlock:
    """Some reads: ``serial`` codes into ``serials``; ``quality`` codes into ``QUALITIES``; none without an index.

    ``bytes_done`` is how much of the file has been taken, as far as the file tells.
    """

    serials: list[str]
    serial: np.ndarray
    port: np.ndarray
    at_us: np.ndarray
    index: np.ndarray
    quality: np.ndarray
    bytes_done: int


def validated_blocks(path: Path) -> Iterator[ValidatedBlock]:
    """Yield validated reads and estimates; an estimate stands as an index with its quality.

    Parameters
    ----------
    path : Path
        Ends in ``.csv``, ``.csv.gz`` or ``.parquet``.

    Raises
    ------
    FileUnreadable, UnknownSuffix, ColumnMissing, DamagedFile
        The file is not one that ``dialtrue validate`` wrote.
    """
    if not path.is_file():
        raise FileUnreadable(file=str(path), reason="there is no such file")
    size = path.stat().st_size
    try:
        for block, done in _blocks(path):
            yield _block(block, path, int(size * done))
    except (pa.ArrowException, OSError, EOFError, zlib.error) as error:
        raise DamagedFile(file=path.name, kind="validated reads", reason=str(error).splitlines()[0][:120]) from error


def _blocks(path: Path) -> Iterator[tuple[Any, float]]:
    """Yield record batches and the share of the file that is done by each."""
    name = path.name.lower()
    if name.endswith(".parquet"):
        with pq.ParquetFile(path) as source:
            _check(source.schema_arrow.names, path)
            rows = max(source.metadata.num_rows, 1)
            done = 0
            for batch in source.iter_batches(500_000, columns=list(_TYPES)):
                done += batch.num_rows
                yield batch, done / rows
    elif name.endswith((".csv", ".csv.gz")):
        options = pacsv.ConvertOptions(column_types=_TYPES, strings_can_be_null=True, null_values=[""])
        with _opened(path) as stream:
            reader = pacsv.open_csv(stream, convert_options=options)
            _check(reader.schema.names, path)
            for batch in reader:
                yield batch, 0.0
    else:
        raise UnknownSuffix(file=str(path), allowed=".csv, .csv.gz or .parquet")


def _opened(path: Path) -> IO[bytes]:
    return cast("IO[bytes]", gzip.open(path)) if path.name.lower().endswith(".gz") else path.open("rb")


def _check(names: list[str], path: Path) -> None:
    missing = [name for name in _TYPES if name not in names]
    if missing:
        raise ColumnMissing(file=path.name, columns=", ".join(missing), hint="", found=", ".join(names[:12]))


def _block(batch: Any, path: Path, done: int) -> ValidatedBlock:
    columns = {name: batch.column(batch.schema.get_field_index(name)).cast(kind) for name, kind in _TYPES.items()}
    index = pc.coalesce(columns["index"], columns["estimate"])
    known = pc.is_valid(index)
    for name in ("endpoint_serial", "port", "at", "quality"):
        known = pc.and_(known, pc.is_valid(columns[name]))
    serial = columns["endpoint_serial"].filter(known).dictionary_encode()
    codes = columns["quality"].filter(known).to_numpy(zero_copy_only=False)
    place = np.full(256, -1, np.int8)
    place[list(ESPI_QUALITY)] = np.arange(len(QUALITIES), dtype=np.int8)
    quality = place[np.clip(codes, 0, 255).astype(np.int64)]
    if (quality < 0).any():
        bad = int(codes[quality < 0][0])
        raise DamagedFile(
            file=path.name, kind="validated reads", reason=f"quality {bad} is none that dialtrue validate writes"
        )
    return ValidatedBlock(
        serial.dictionary.to_pylist(),
        serial.indices.to_numpy(zero_copy_only=False).astype(np.int64),
        columns["port"].filter(known).to_numpy(zero_copy_only=False),
        columns["at"].filter(known).cast(pa.int64()).to_numpy(zero_copy_only=False),
        index.filter(known).to_numpy(zero_copy_only=False),
        quality,
        done,
    )
