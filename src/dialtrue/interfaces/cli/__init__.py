"""The command line: one module a command. Heavy imports stand inside the commands, so that help is instant."""

from __future__ import annotations

import codecs
import io
import sys
from collections.abc import Sequence
from typing import Annotated

import typer

from dialtrue import __version__
from dialtrue.domain.errors import DialtrueError
from dialtrue.interfaces.cli.demo import demo
from dialtrue.interfaces.cli.explain import explain
from dialtrue.interfaces.cli.figures import figures
from dialtrue.interfaces.cli.fit import fit
from dialtrue.interfaces.cli.handover import handover
from dialtrue.interfaces.cli.plan import plan
from dialtrue.interfaces.cli.replay import replay
from dialtrue.interfaces.cli.routes import routes
from dialtrue.interfaces.cli.sample import sample
from dialtrue.interfaces.cli.settle import settle
from dialtrue.interfaces.cli.sheets import sheets
from dialtrue.interfaces.cli.survey import survey
from dialtrue.interfaces.cli.validate import validate
from dialtrue.interfaces.cli.watch import watch

EXIT_OURS = 1
EXIT_USAGE = 2
EXIT_INTERRUPTED = 130

_UsageError = typer.BadParameter.__mro__[1]
"""Base of wrong usage. Newer releases of typer carry their own copy of click and export only this descendant."""

app = typer.Typer(
    name="dialtrue",
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"terminal_width": 100, "help_option_names": ["-h", "--help"]},
)
app.command("watch")(watch)
app.command("replay")(replay)
app.command("explain")(explain)
app.command("settle")(settle)
app.command("demo")(demo)
app.command("fit")(fit)
app.command("plan")(plan)
app.command("survey")(survey)
app.command("sample")(sample)
app.command("handover")(handover)
app.command("figures")(figures)
app.command("routes")(routes)
app.command("sheets")(sheets)
app.command("validate")(validate)


def _print_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"dialtrue {__version__}")
        raise typer.Exit


@app.callback(no_args_is_help=True)
def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version and leave.")
    ] = False,
    debug: Annotated[bool, typer.Option("--debug", help="Show the traceback of an error (anywhere on the line).")] = (
        False
    ),
) -> None:
    """Keep every radio read of a pulse-output water meter true to the dial.

    Example: dialtrue watch my-programme --out findings.csv --report report.html

    Exit codes: 0 done, nothing to do; 1 a bug of ours; 2 wrong usage; 3 done, with findings that ask for
    an action; 10 to 79 by cause, see the page on errors; 130 interrupted.
    """


def run(arguments: Sequence[str]) -> int:
    """Run one command line and return its exit code; every error becomes one sentence on stderr.

    Parameters
    ----------
    arguments : sequence of str
        The words after ``dialtrue``.

    Returns
    -------
    int
        Exit code, 0 to 130.

    Raises
    ------
    Exception
        Whatever went wrong, untouched, if ``--debug`` is among the arguments.

    Source
    ------
    Definition; exit codes as in ``domain.errors``.
    """
    debug = "--debug" in arguments
    as_json = "--json" in arguments
    try:
        code = app([word for word in arguments if word != "--debug"], prog_name="dialtrue", standalone_mode=False)
    except _UsageError as error:
        error.show()  # type: ignore[attr-defined]
        return EXIT_USAGE
    except DialtrueError as error:
        if debug:
            raise
        return _say_error(error, as_json=as_json)
    except (KeyboardInterrupt, typer.Abort):
        code = EXIT_INTERRUPTED
    except BrokenPipeError:
        sys.stderr.close()  # the reader of our output has left, as `head` does: nothing is wrong
        return 0
    except Exception as error:
        if debug:
            raise
        return _say_bug(error, as_json=as_json)
    if code == EXIT_INTERRUPTED:
        print("Interrupted. Nothing half-written was left behind.", file=sys.stderr)
    return code if isinstance(code, int) else 0


def _say_error(error: DialtrueError, *, as_json: bool) -> int:
    """Print the error in the form asked for."""
    if as_json:
        import json

        print(json.dumps({"error": error.as_dict()}, ensure_ascii=False), file=sys.stderr)
    else:
        print(error.rendered(), file=sys.stderr)
    return error.exit_code


def _say_bug(error: Exception, *, as_json: bool) -> int:
    """Save what a maintainer needs and say, in one sentence, that the fault is ours."""
    import json
    import platform
    import tempfile
    import traceback

    report = "".join(traceback.format_exception(error))
    with tempfile.NamedTemporaryFile(
        "w", prefix="dialtrue-bug-", suffix=".txt", delete=False, encoding="utf-8"
    ) as file:
        file.write(f"dialtrue {__version__}, Python {platform.python_version()}, {platform.system()}\n\n{report}")
    message = f"This is a bug of ours ({type(error).__name__}); the report is saved at {file.name}."
    remedy = "Send us that file; add --debug to see the traceback here."
    if as_json:
        fields = {"code": "BUG", "message": message, "remedy": remedy, "facts": {"report": file.name}, "status": 1}
        print(json.dumps({"error": fields}, ensure_ascii=False), file=sys.stderr)
    else:
        print(f"{message} {remedy} [BUG]", file=sys.stderr)
    return EXIT_OURS


def _plainer(error: UnicodeError) -> tuple[str, int]:
    """Give the nearest plain character where a terminal cannot show ours: a minus must never become a question mark."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    nearest = {"\N{MINUS SIGN}": "-", "\N{NO-BREAK SPACE}": " "}
    return "".join(nearest.get(mark, "?") for mark in error.object[error.start : error.end]), error.end


def main() -> None:
    """Enter from the shell."""
    codecs.register_error("plainer", _plainer)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="plainer")
    sys.exit(run(sys.argv[1:]))
