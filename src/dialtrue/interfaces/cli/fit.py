"""The command ``fit``: will this output, this cable and this input count every pulse?"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from dialtrue.domain.errors.input_files import UnknownSuffix

if TYPE_CHECKING:
    from dialtrue.domain.pulse_chain.chain import FitSettings
    from dialtrue.files.endpoint_sheets import Hardware
    from dialtrue.files.sheets import Catalogue

TABLE_ENDINGS = (".csv", ".csv.gz", ".parquet")
EXIT_FINDINGS = 3
METRIC_WORDS = ("m3", "l/", " l", "dn")


def fit(
    output: Annotated[str, typer.Option(metavar="KEY", help="Data sheet of the pulse output.")] = "",
    entry: Annotated[str, typer.Option("--input", metavar="KEY", help="Data sheet of the endpoint input.")] = "",
    cable: Annotated[str, typer.Option(metavar="KEY", help="Data sheet of the cable.")] = "",
    length: Annotated[str, typer.Option(metavar="LENGTH", help="One-way run: '30 m' or '100 ft'.")] = "",
    weight: Annotated[str, typer.Option(metavar="VOLUME", help="Volume per pulse: '10 gal' or '1 L'.")] = "",
    size: Annotated[str, typer.Option(metavar="SIZE", help="Meter size: 5/8in to 6in, DN15 to DN150.")] = "",
    max_flow: Annotated[str, typer.Option(metavar="FLOW", help="Greatest flow: '160 gal/min', '25 m3/h'.")] = "",
    min_flow: Annotated[str, typer.Option(metavar="FLOW", help="Least flow, for the time between pulses.")] = "",
    q3: Annotated[str, typer.Option(metavar="FLOW", help="Permanent flow Q3.")] = "",
    leakage: Annotated[str, typer.Option(metavar="OHMS", help="Leakage on this site: '220 kohm'.")] = "",
    both_contacts: Annotated[
        bool, typer.Option("--both-contacts", help="Both contacts of a changeover output are wired.")
    ] = False,
    use: Annotated[str, typer.Option(metavar="FLOW", help="Expected use: '138 gal/day'.")] = "",
    resolution: Annotated[str, typer.Option(metavar="VOLUME", help="Value of the least digit read.")] = "",
    billing: Annotated[str, typer.Option(metavar="VOLUME", help="Billing unit: '1000 gal', '1 m3'.")] = "",
    digits: Annotated[int | None, typer.Option(min=1, max=18, help="Digits of the index.")] = None,
    debounce: Annotated[float | None, typer.Option(metavar="MS", help="Set the input's filter to this [ms].")] = None,
    allow_weight: Annotated[
        list[str] | None, typer.Option(metavar="VOLUME", help="A weight that --suggest may use; may be repeated.")
    ] = None,
    damp: Annotated[str, typer.Option(metavar="OHMS", help="Leakage it should stand.")] = "1 Mohm",
    life: Annotated[float, typer.Option(metavar="YEARS", help="Wished life, contact parked closed [years].")] = 10.0,
    care: Annotated[float, typer.Option(metavar="SHARE", help="A margin under this share is thin.")] = 0.1,
    noise: Annotated[float, typer.Option(metavar="V", help="Noise on the line [V].")] = 0.05,
    cold: Annotated[float, typer.Option(metavar="C", help="Coldest cable [C].")] = -20.0,
    hot: Annotated[float, typer.Option(metavar="C", help="Hottest cable [C].")] = 60.0,
    sheet: Annotated[
        list[Path] | None, typer.Option(metavar="PATH", help="Your own data sheets, file or folder; may be repeated.")
    ] = None,
    sheets: Annotated[bool, typer.Option("--sheets", help="List the data sheets and leave.")] = False,
    sites: Annotated[
        Path | None, typer.Option(metavar="PATH", help="Check every register of a sites table or folder.")
    ] = None,
    out: Annotated[Path | None, typer.Option(help="With --sites: write the plan (.csv, .csv.gz, .parquet).")] = None,
    strict: Annotated[bool, typer.Option("--strict", help="Refuse a sites table that has a bad row.")] = False,
    picture: Annotated[Path | None, typer.Option(metavar="FOLDER", help="Write pulse.svg and counts.svg here.")] = None,
    why: Annotated[str, typer.Option(metavar="RULE", help="Explain a rule: formula, figures, source.")] = "",
    suggest: Annotated[bool, typer.Option("--suggest", help="Show what would make it fit.")] = False,
    units: Annotated[str, typer.Option(metavar="SYSTEM", help="us or metric; default: as you wrote it.")] = "",
    show: Annotated[int, typer.Option(min=1, max=1000, help="Lines to show of a long list.")] = 10,
    as_json: Annotated[bool, typer.Option("--json", help="Print the answer as JSON.")] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Judge and print, write no file.")] = False,
) -> None:
    """Say whether a pulse chain will count every pulse.

    Example: dialtrue fit --output reed-one-in-five --input contact-3v-47k --cable awg22-pair
    --length '100 ft' --weight '1 gal' --size 2in --suggest

    Ends with 0 if it fits and with 3 if it does not, fits with care only, or is not known.
    """
    from dialtrue.domain.pulse_chain.chain import FitSettings
    from dialtrue.domain.pulse_chain.measure import measure
    from dialtrue.domain.pulse_chain.rules import fit_rule
    from dialtrue.services.fit import FitRequest, check_chain, sheets_of

    if units not in ("", "us", "metric"):
        raise typer.BadParameter("use us or metric", param_hint="--units")
    if out is not None and not out.name.lower().endswith(TABLE_ENDINGS):
        raise UnknownSuffix(file=out, allowed=f"{', '.join(TABLE_ENDINGS[:-1])} or {TABLE_ENDINGS[-1]}")
    rule = fit_rule(why) if why else None
    catalogue = sheets_of(sheet or ())
    settings = FitSettings(
        care_share=care,
        damp_ohm=float(measure(damp, what="resistance")),
        life_years=life,
        noise_v=noise,
        cold_c=cold,
        hot_c=hot,
    )
    if sheets:
        from dialtrue.files.endpoint_sheets import load_hardware

        typer.echo("\n".join(_sheet_lines(catalogue, load_hardware(sheet or ()))))
        return

    def amount(text: str, what: str) -> Fraction | None:
        return measure(text, what=what) if text else None

    if sites is not None:
        _population(
            sites,
            catalogue,
            settings,
            keys=(output, entry, cable),
            figures=(amount(length, "length"), amount(billing, "volume"), amount(leakage, "resistance")),
            out=None if dry_run else out,
            strict=strict,
            show=show,
            as_json=as_json,
        )
        return
    written = f"{weight} {max_flow} {size}".lower()
    system = units or ("metric" if any(word in written for word in METRIC_WORDS) else "us")
    if rule is not None and not (output or entry or cable):
        from dialtrue.interfaces.cli.fit_text import rule_lines

        typer.echo("\n".join(rule_lines(rule, None, system=system)))
        return
    if not (output or entry or cable):
        raise typer.BadParameter("name a chain (--output, --input, --cable), or a table with --sites")
    request = FitRequest(
        output=output,
        input=entry,
        cable=cable,
        length_m=amount(length, "length"),
        weight_l=amount(weight, "volume"),
        size=size,
        max_flow_lpm=amount(max_flow, "flow"),
        min_flow_lpm=amount(min_flow, "flow"),
        q3_lpm=amount(q3, "flow"),
        leakage_ohm=amount(leakage, "resistance"),
        wiring="both_contacts" if both_contacts else "one_pair",
        use_l_per_day=amount(use, "use"),
        resolution_l=amount(resolution, "volume"),
        billing_l=amount(billing, "volume"),
        index_digits=digits,
        debounce_ms=debounce,
        weights_l=tuple(measure(text, what="volume") for text in allow_weight or ()),
        settings=settings,
    )
    answer = check_chain(request, catalogue, system=system, suggestions=show if suggest else 0)

    from dialtrue.interfaces.cli.fit_text import answer_document, answer_lines, rule_lines

    if as_json:
        import json

        document = answer_document(answer, system=system)
        typer.echo(json.dumps(document, ensure_ascii=False, indent=1, allow_nan=False))
    elif rule is not None:
        typer.echo("\n".join(rule_lines(rule, answer, system=system)))
    else:
        typer.echo("\n".join(answer_lines(answer, system=system)))
        if suggest and not answer.suggestions:
            fits = answer.verdict.outcome == "fits"
            typer.echo("\nIt fits as it is." if fits else "\nNo weight, filter, input or cable on hand makes it fit.")
    if picture is not None:
        from dialtrue.files.pulse_picture import curve_svg, pulse_svg
        from dialtrue.files.tables_out import write_atomically

        for name, draw in (("pulse.svg", pulse_svg), ("counts.svg", curve_svg)):
            drawn = draw(answer.chain, sentence=answer.sentence, system=system)
            if drawn is None:
                typer.echo(f"No {name}: a figure that it needs is not known.", err=True)
                continue
            if not dry_run:
                data = drawn.encode("utf-8")
                write_atomically(picture / name, lambda sink, data=data: sink.write(data))
            typer.echo(f"{'Would write' if dry_run else 'Wrote'} {picture / name}", err=True)
    if answer.verdict.outcome != "fits":
        raise typer.Exit(EXIT_FINDINGS)


def _sheet_lines(catalogue: Catalogue, hardware: Hardware) -> list[str]:
    """List every sheet: kind, key, title."""
    from dialtrue.interfaces.cli.output import WIDTH, aligned

    rows = [("", "key", "what it is")]
    for kind, held in (
        ("output", catalogue.outputs),
        ("input", catalogue.inputs),
        ("cable", catalogue.cables),
        ("endpoint", hardware.endpoints),
        ("part", hardware.parts),
    ):
        rows += [(kind, key, sheet.title) for key, sheet in held.items()]
    return [line if len(line) <= WIDTH else f"{line[: WIDTH - 1]}…" for line in aligned(rows, indent=0)]


def _population(
    sites: Path,
    catalogue: Catalogue,
    settings: FitSettings,
    *,
    keys: tuple[str, str, str],
    figures: tuple[Fraction | None, Fraction | None, Fraction | None],
    out: Path | None,
    strict: bool,
    show: int,
    as_json: bool,
) -> None:
    """Check a sites table, print the answer, write the plan."""
    from dialtrue.interfaces.cli.fit_text import population_document, population_lines
    from dialtrue.interfaces.clock import now_utc
    from dialtrue.services.fit_population import Blanks, check_population

    length_m, billing_l, leakage_ohm = (None if figure is None else float(figure) for figure in figures)
    answer = check_population(
        sites,
        catalogue,
        at=now_utc(),
        settings=settings,
        strict=strict,
        blanks=Blanks(
            output=keys[0],
            input=keys[1],
            cable=keys[2],
            length_m=length_m,
            billing_l=billing_l,
            leakage_ohm=leakage_ohm,
        ),
    )
    if as_json:
        import json

        typer.echo(json.dumps(population_document(answer), ensure_ascii=False, indent=1, allow_nan=False))
    else:
        typer.echo("\n".join(population_lines(answer, show=show)))
    if out is not None:
        from dialtrue.files.tables_out import write_table

        write_table(out, answer.plan)
        typer.echo(f"Wrote {out}", err=True)
    if sum(answer.outcomes.values()) != answer.outcomes["fits"]:
        raise typer.Exit(EXIT_FINDINGS)
