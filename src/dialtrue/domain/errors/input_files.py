"""Errors of input files: exit codes 10 to 19, one number for each place where a person would look.

10 the folder; 11 which file is meant; 12 empty; 13 not text; 14 separator; 15 header; 16 too large; 17 damaged;
18 bad rows refused; 19 programme.toml.
"""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class FolderMissing(DialtrueError):
    """The programme folder does not exist."""

    code = "FOLDER-MISSING"
    exit_code = 10
    message = "There is no folder {folder}."
    remedy = "Check the spelling; name the folder that holds the tables, such as sites.csv and reads.parquet."
    example = {"folder": "programme"}


class FolderIsAFile(DialtrueError):
    """A file was named where the programme folder is expected."""

    code = "FOLDER-IS-A-FILE"
    exit_code = 10
    message = "{folder} is a file, not a folder."
    remedy = "Name the folder that holds it."
    example = {"folder": "programme/sites.csv"}


class NoTables(DialtrueError):
    """The folder holds none of the contract tables."""

    code = "NO-TABLES"
    exit_code = 10
    message = "The folder {folder} holds no table that dialtrue knows{seen}."
    remedy = "Name the files {expected}, ending in .csv, .csv.gz or .parquet."
    example = {"folder": "programme", "seen": " (it holds: notes.txt)", "expected": "sites, fittings, reads"}


class FileUnreadable(DialtrueError):
    """The system does not let the file be read: permission, a link that leads nowhere or round in a circle."""

    code = "FILE-UNREADABLE"
    exit_code = 11
    message = "{file} cannot be read: {reason}."
    remedy = "Put a plain file there that you may read, or take it away to work without it."
    example = {"file": "sites.csv", "reason": "permission denied"}


class TwoFilesForOneTable(DialtrueError):
    """Two files claim to be the same table."""

    code = "TWO-FILES-FOR-ONE-TABLE"
    exit_code = 11
    message = "The table {table} is there more than once: {files}."
    remedy = "Keep {keep}, which was written last, or the one you trust; move {others} out of the folder."
    example = {
        "table": "sites",
        "files": "sites.csv, sites.parquet",
        "keep": "sites.csv",
        "others": "sites.parquet",
    }


class TableIsAFolder(DialtrueError):
    """A folder stands where a table file is expected."""

    code = "TABLE-IS-A-FOLDER"
    exit_code = 11
    message = "{file} is a folder; only reads may be a folder of files."
    remedy = "Put one file {table}.csv, {table}.csv.gz or {table}.parquet in its place."
    example = {"file": "sites.csv", "table": "sites"}


class EmptyFile(DialtrueError):
    """The file holds nothing, not even a header."""

    code = "EMPTY-FILE"
    exit_code = 12
    message = "{file} is empty."
    remedy = "Export it again with its header row, {header}; or take it away to work without it."
    example = {"file": "sites.csv", "header": "site,meter_serial"}


class NotUtf8(DialtrueError):
    """The text is in another encoding than UTF-8."""

    code = "NOT-UTF-8"
    exit_code = 13
    message = "{file}, row {row}: byte {byte} is not UTF-8 text; the file looks like {guess}."
    remedy = "Save it again as UTF-8 (in a spreadsheet: CSV UTF-8)."
    example = {"file": "sites.csv", "row": 17, "byte": "0xE9", "guess": "Latin-1 or Windows-1252"}


class NotText(DialtrueError):
    """The file holds zero bytes or begins like a program, picture or archive: it is no CSV."""

    code = "NOT-TEXT"
    exit_code = 13
    message = "{file}, row {row}: {what}, so this is no CSV text."
    remedy = "Check the file's ending and export it again as CSV."
    example = {"file": "sites.csv", "row": 1, "what": "a zero byte"}


class WrongSeparator(DialtrueError):
    """The cells are parted by something other than a comma."""

    code = "WRONG-SEPARATOR"
    exit_code = 14
    message = "{file} parts its cells by {separator}, not by a comma."
    remedy = "Export it again with commas between the cells."
    example = {"file": "sites.csv", "separator": "a semicolon ;"}


class HeaderTooLarge(DialtrueError):
    """The header row is longer, or has more columns, than any table needs."""

    code = "HEADER-TOO-LARGE"
    exit_code = 15
    message = "The header of {file} has {size}; the limit is {limit}."
    remedy = "Check that this is the right file; keep the columns that the table needs."
    example = {"file": "sites.csv", "size": "1,000,000 columns", "limit": "4,000 columns"}


class ColumnMissing(DialtrueError):
    """A column that every row needs is not there."""

    code = "COLUMN-MISSING"
    exit_code = 15
    message = "{file} has no column {columns}{hint}."
    remedy = "Add it to the header row; the columns found are: {found}."
    example = {"file": "sites.csv", "columns": "meter_serial", "hint": "", "found": "site, meter"}


class ColumnTwice(DialtrueError):
    """Two columns bear one name."""

    code = "COLUMN-TWICE"
    exit_code = 15
    message = "{file} has the column {column} more than once (columns {places})."
    remedy = "Rename or remove all but one."
    example = {"file": "sites.csv", "column": "site", "places": "1 and 4"}


class LineTooLong(DialtrueError):
    """One line is far longer than a row of a table can be."""

    code = "LINE-TOO-LONG"
    exit_code = 16
    message = "{file}, row {row}: the line is longer than {limit} bytes."
    remedy = "Check that the file is a table with one row a line; export it again."
    example = {"file": "sites.csv", "row": 2, "limit": "1,000,000"}


class FileTooLarge(DialtrueError):
    """The file is, or unpacks to, more than the memory set aside for one table."""

    code = "FILE-TOO-LARGE"
    exit_code = 16
    message = "{file} holds more than {limit}."
    remedy = "Check that it is the right file; split a true table of this size into several programme folders."
    example = {"file": "sites.csv.gz", "limit": "512 MB when unpacked"}


class DamagedFile(DialtrueError):
    """The file is cut short or is not what its ending says."""

    code = "DAMAGED-FILE"
    exit_code = 17
    message = "{file} cannot be read as {kind}: {reason}."
    remedy = "Copy or export it again; check that the ending of its name is right."
    example = {"file": "reads.parquet", "kind": "Parquet", "reason": "its end is missing"}


class WrongColumnType(DialtrueError):
    """A column of a typed file holds another type than the table needs."""

    code = "WRONG-COLUMN-TYPE"
    exit_code = 17
    message = "{file}: the column {column} holds {found}; {expected} is needed."
    remedy = "{how}"
    example = {
        "file": "reads.parquet",
        "column": "endpoint_serial",
        "found": "int64",
        "expected": "text",
        "how": "Write serials as text.",
    }


class RowsRefused(DialtrueError):
    """Rows are bad, and the strict reading refuses the whole set."""

    code = "ROWS-REFUSED"
    exit_code = 18
    message = "{count} bad rows, and the strict reading takes none of the file:\n{rows}\n"
    remedy = "Put these rows right, or read without --strict to load the good rows."
    example = {
        "count": 1,
        "rows": "  sites.csv, row 3, dial_digits '6,5': a whole number is expected. Write digits only. [NOT-A-NUMBER]",
    }


class BadProgrammeFile(DialtrueError):
    """programme.toml is not TOML, or holds a value of the wrong kind."""

    code = "BAD-PROGRAMME-FILE"
    exit_code = 19
    message = "{file} cannot be used: {reason}."
    remedy = 'Write one line such as timezone = "America/Chicago".'
    example = {"file": "programme.toml", "reason": "line 1 is not TOML"}


class UnknownTimeZone(DialtrueError):
    """The programme's time zone is not an IANA name."""

    code = "UNKNOWN-TIME-ZONE"
    exit_code = 19
    message = "{file}: the time zone {zone!r} is not known."
    remedy = "Use an IANA name; the nearest are {nearest}."
    example = {"file": "programme.toml", "zone": "America/Chicgo", "nearest": "America/Chicago"}


class UnknownRepair(DialtrueError):
    """A repair was accepted that nothing offers."""

    code = "UNKNOWN-REPAIR"
    exit_code = 2
    message = "No repair {accept!r} is offered for this folder."
    remedy = "Accept one of: {offered}; or a kind of repair; or all."
    example = {"accept": "zeros:fitting:417733", "offered": "zeros:fittings:417733"}


class OutputNotWritten(DialtrueError):
    """A result file could not be written; what stood there before still stands."""

    code = "OUTPUT-NOT-WRITTEN"
    exit_code = 60
    message = "{file} could not be written: {reason}. What stood there before is unchanged."
    remedy = "Make room or choose another place, then run again."
    example = {"file": "findings.csv", "reason": "no space left on device"}


class UnknownSuffix(DialtrueError):
    """The ending of a result file names no format that dialtrue writes."""

    code = "UNKNOWN-SUFFIX"
    exit_code = 2
    message = "{file}: the ending names no table format."
    remedy = "End the name in {allowed}."
    example = {"file": "findings.xls", "allowed": ".csv, .csv.gz or .parquet"}
