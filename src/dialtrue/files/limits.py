"""Limits that keep memory bounded whatever the file holds.

Source
------
Our assumption: each limit is several times what the largest honest table needs (100,000 registers, 4,000 columns, two
years of billed periods) and small enough for a laptop. Override by splitting the programme into several folders.
"""

from __future__ import annotations

from typing import Final

MAX_PROBLEMS_A_FILE: Final = 50
"""Bad rows described in full per file; the rest are counted. [rows]"""

MAX_HEADER_BYTES: Final = 1_000_000
"""Longest header row. [bytes]"""

MAX_COLUMNS: Final = 4_000
"""Most columns in a table. [columns]"""

MAX_LINE_BYTES: Final = 1_000_000
"""Longest line of a CSV file. [bytes]"""

MAX_CELL_CHARACTERS: Final = 32_767
"""Longest text in one cell, the limit of the usual spreadsheets. [characters]"""

MAX_SERIAL_CHARACTERS: Final = 200
"""Longest serial or id. [characters]"""

MAX_TABLE_BYTES: Final = 512_000_000
"""Most bytes of one table other than reads, unpacked. [bytes]"""

MAX_TABLE_ROWS: Final = 20_000_000
"""Most rows of one table other than reads. [rows]"""

MAX_XLSX_ROWS: Final = 1_048_576
"""Most rows of one sheet, the limit of the usual spreadsheets. [rows]"""

MAX_CELLS: Final = 200_000_000
"""Most cells of one table other than reads, rows times columns. [cells]"""

MAX_READS_FILES: Final = 100_000
"""Most files in the folder reads/. [files]"""

MAX_ENDPOINTS: Final = 20_000_000
"""Most endpoints heard; more means the serial column holds something else. [endpoints]"""

BLOCK_BYTES: Final = 16_000_000
"""Reads in CSV are taken in blocks of this size. [bytes]"""

MAX_ROW_GROUP_ROWS: Final = 4_000_000
"""A Parquet row group with more rows than this is read in slices. [rows]"""

MAX_INDEX: Final = 10**18
"""Largest index: 18 digits. [counts]"""

FUTURE_DAYS: Final = 2
"""A stamp may lie this far after the time of the run: clocks drift, zones are mistaken. [d]"""
