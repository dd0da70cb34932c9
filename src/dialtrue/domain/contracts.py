"""The open file contract: every table, its columns, their forms. Parsers, writers and the reference pages share it."""

from __future__ import annotations

from typing import Final

from dialtrue.domain.faults import FAULTS
from dialtrue.domain.progress.table import FIGURES as FIGURES
from dialtrue.domain.quantity import UNITS
from dialtrue.domain.read_checks.table import VALIDATED_READS
from dialtrue.domain.settlement_tables import ROLES as ROLES
from dialtrue.domain.settlement_tables import SETTLEMENT_IN, SETTLEMENT_OUT
from dialtrue.domain.table_form import Column as Column
from dialtrue.domain.table_form import Form as Form
from dialtrue.domain.table_form import Table as Table

MOUNTS: Final = ("wall", "pole", "pit", "indoor")
METER_TYPES: Final = (
    "nutating_disc", "oscillating_piston", "single_jet", "multi_jet", "turbine", "compound", "ultrasonic",
    "electromagnetic", "other",
)  # fmt: skip
LOOPS: Final = ("wired", "bridged", "absent")
SOURCES: Final = ("fitter", "reader", "customer", "photo")
ALARMS: Final = ("cut_wire", "low_battery", "reverse_flow", "continuous_flow")
FLAGS: Final = ("estimated", "repeated")
REASONS: Final = ("finding", "sample", "complaint", "other")


def _unit(name: str, required: bool, meaning: str) -> Column:
    return Column(name, "unit", required, meaning, choices=UNITS)


_ROLE: Final = Column("register_role", "choice", False, "which register of a compound meter", ROLES, default="single")
_PORT: Final = Column("port", "int", False, "pulse input of the endpoint", default="1", minimum=1, maximum=99)

SITES: Final = Table(
    "sites",
    "One row per register; a compound meter has two rows, high and low.",
    (
        Column("site", "text", True, "the utility's own id of the place"),
        Column("account", "text", False, "billing account"),
        Column("address", "text", False, "street address"),
        Column("latitude", "float", False, "WGS 84 degrees", minimum=-90, maximum=90),
        Column("longitude", "float", False, "WGS 84 degrees", minimum=-180, maximum=180),
        Column("mount", "choice", False, "where the endpoint will sit", MOUNTS),
        Column("meter_serial", "text", True, "on the meter's plate"),
        Column("meter_type", "choice", False, "measuring principle", METER_TYPES),
        Column("meter_size", "text", False, "such as 5/8in or DN15"),
        _ROLE,
        Column("dial_digits", "int", True, "moving digits on the dial", minimum=1, maximum=12),
        Column("fixed_zeros", "int", False, "painted zeros right of those", default="0", minimum=0, maximum=6),
        _unit("dial_unit", True, "unit of the dial as printed"),
        Column("dial_resolution", "decimal", False, "least moving digit in dial units, if not 10^fixed_zeros"),
        Column("pulse_weight", "decimal", True, "volume per pulse of the output"),
        _unit("pulse_unit", True, "unit of the pulse weight"),
        Column("output", "text", False, "data sheet of the pulse output"),
        Column("input", "text", False, "data sheet of the endpoint input; blank: the planner chooses"),
        Column("cable", "text", False, "cable data sheet"),
        Column("cable_length_m", "float", False, "cable run", minimum=0, maximum=10_000),
        Column("use_l_per_day", "float", False, "expected use, if known", minimum=0),
        Column("endpoint", "text", False, "data sheet of the endpoint; blank: the planner chooses"),
        Column("area", "text", False, "route or area of the utility, for kits and progress"),
        Column("surveyed_at", "time", False, "when the survey saw it"),
        Column("visit_day", "day", False, "day agreed with the customer"),
        Column("window_from", "text", False, "earliest arrival, local time HH:MM"),
        Column("window_to", "text", False, "latest arrival, local time HH:MM"),
        Column("skills", "text", False, "skills that the visit asks for, separated by spaces"),
    ),
    "without sites nothing is known of dials, units and pulse weights: only the reads' own numbers can be judged",
    xlsx=True,
)  # fmt: skip

FITTINGS: Final = Table(
    "fittings",
    "What was put where.",
    (
        Column("site", "text", False, "the utility's own id of the place"),
        Column("meter_serial", "text", True, "on the meter's plate"),
        _ROLE,
        Column("endpoint_serial", "text", True, "on the endpoint's label"),
        _PORT,
        Column("fitted_at", "time", True, "when the endpoint was fitted"),
        Column("fitter", "text", False, "who fitted it"),
        Column("dial_at_fit", "digits", False, "every position of the dial as seen, painted zeros too"),
        Column("start_index", "digits", False, "the start index as keyed"),
        Column("index_digits", "int", False, "digits of the index", minimum=1, maximum=18),
        _unit("index_unit", False, "unit of the index"),
        Column("index_resolution", "decimal", False, "value of the least digit sent, in index units"),
        Column("weight_set", "decimal", False, "the pulse weight the endpoint was told"),
        _unit("weight_unit", False, "unit of the weight set"),
        Column("tamper_loop", "choice", False, "how the tamper loop was left", LOOPS),
        Column("cable_lot", "text", False, "lot of the cable"),
        Column("endpoint_sheet", "text", False, "data sheet of the endpoint"),
        Column("removed_at", "time", False, "when it was taken off"),
    ),
    "without fittings no read can be tied to a meter: endpoints that were heard are listed, not judged",
)

DIAL_READS: Final = Table(
    "dial_reads",
    "What somebody saw on the dial.",
    (
        Column("meter_serial", "text", True, "on the meter's plate"),
        _ROLE,
        Column("at", "time", True, "when it was seen"),
        Column("dial", "digits", True, "every position as seen, left to right, painted zeros too, no point"),
        Column("source", "choice", False, "who saw it", SOURCES),
        Column("note", "text", False, "free words"),
    ),
    "without dial reads the index is judged by its own numbers and by use before the fitting; few faults settle",
)  # fmt: skip

READS: Final = Table(
    "reads",
    "The index as it arrived.",
    (
        Column("endpoint_serial", "text", True, "on the endpoint's label"),
        _PORT,
        Column("at", "time", True, "when the index was latched"),
        Column("index", "int", True, "count of index_resolution units, as sent", minimum=0),
        Column("flag", "choice", False, "blank, estimated or repeated", FLAGS),
        Column("received_at", "time", False, "when it arrived"),
    ),
    "without reads there is nothing to watch: only the records can be compared with each other",
)

ALARM_TABLE: Final = Table(
    "alarms",
    "What the endpoint complained of.",
    (
        Column("endpoint_serial", "text", True, "on the endpoint's label"),
        _PORT,
        Column("at", "time", True, "when it was raised"),
        Column("alarm", "choice", True, "which alarm", ALARMS),
    ),
    "without alarms a cut line or an exhausted cell shows only by the counts it costs",
)

WEATHER: Final = Table(
    "weather",
    "Rain and temperature, hourly or daily.",
    (
        Column("at", "time", True, "start of the hour or day"),
        Column("rain_mm", "float", True, "rain in the step", minimum=0, maximum=2000),
        Column("temp_c", "float", False, "air temperature", minimum=-90, maximum=65),
        Column("station", "text", False, "where there is more than one"),
    ),
    "without weather false counts that come with rain or cold cannot be told from other false counts",
)

USE_HISTORY: Final = Table(
    "use_history",
    "Billed periods before the fitting; periods touch.",
    (
        Column("meter_serial", "text", True, "on the meter's plate"),
        _ROLE,
        Column("start", "day", True, "day of the first read"),
        Column("end", "day", True, "day of the last read"),
        Column("volume", "decimal", True, "billed volume"),
        _unit("unit", True, "unit of the volume"),
        Column("estimated", "flag", False, "true if the period was estimated"),
    ),
    "without use history a port that was wrong from its first day looks like its customer until a dial is read",
)

CHECKS: Final = Table(
    "checks",
    "What somebody found who looked at a port, faults put right and ports found sound alike.",
    (
        Column("meter_serial", "text", False, "on the meter's plate; blank where the endpoint is named"),
        _ROLE,
        Column("endpoint_serial", "text", False, "on the endpoint's label"),
        _PORT,
        Column("checked_at", "time", True, "when it was looked at"),
        Column("found", "choice", True, "the fault code that was found, or sound", FAULTS),
        Column("put_right", "flag", False, "false if the fault was left as it was; blank: put right"),
        Column("why", "choice", False, "what led to the check; sample where the port was drawn by lot", REASONS),
        Column("by", "text", False, "who looked"),
        Column("note", "text", False, "free words"),
    ),
    "without checks the shares of faults are the shipped ones, and no crew, lot or kind of hardware is known to differ",
    later=True,
)

CREWS: Final = Table(
    "crews",
    "Who drives: one row a crew and van.",
    (
        Column("crew", "text", True, "name of the crew"),
        Column("shift_from", "text", False, "start of the shift, local time HH:MM", default="07:30"),
        Column("shift_to", "text", False, "end of the shift, local time HH:MM", default="16:00"),
        Column("break_minutes", "int", False, "length of the break", default="30", minimum=0, maximum=240),
        Column("break_from", "text", False, "earliest start of the break, local time HH:MM", default="11:30"),
        Column("break_to", "text", False, "latest start of the break, local time HH:MM", default="13:00"),
        Column("skills", "text", False, "what the crew may do, separated by spaces"),
        Column("depot_latitude", "float", False, "WGS 84 degrees", minimum=-90, maximum=90),
        Column("depot_longitude", "float", False, "WGS 84 degrees", minimum=-180, maximum=180),
        Column("most_stops", "int", False, "most visits in a day", minimum=1, maximum=200),
        Column("most_endpoints", "int", False, "most endpoints that the van carries in a day", minimum=1, maximum=999),
    ),
    "without crews there is one, on the shipped shift, that starts at the middle of the sites",
    later=True,
)

DISTANCES: Final = Table(
    "distances",
    "Driving between places, where the utility has it; a blank or missing pair is taken from the coordinates.",
    (
        Column("from_site", "text", True, "a site, or depot:CREW"),
        Column("to_site", "text", True, "a site, or depot:CREW"),
        Column("minutes", "float", False, "driving time; blank: from the coordinates [min]", minimum=0, maximum=1440),
        Column("km", "float", False, "driving distance [km]", minimum=0, maximum=2000),
    ),
    "without distances driving is taken from the straight line and a detour factor",
    later=True,
)

PLAN: Final = Table(
    "plan",
    "One row per register: what goes there, what is keyed, how it is proved.",
    (
        Column("site", "text", True, "the utility's own id of the place"),
        Column("meter_serial", "text", True, "on the meter's plate"),
        Column("register_role", "choice", True, "which register of a compound meter", ROLES),
        Column("status", "choice", True, "planned, or ask: something must be asked on site first", ("planned", "ask")),
        Column("questions", "text", False, "what to ask on site, in words"),
        Column("mount", "choice", False, "where the endpoint will sit", MOUNTS),
        Column("verdict", "text", True, "fits, fits_with_care, does_not_fit, unknown"),
        Column("deciding_rule", "text", False, "rule of the fit check that decided"),
        Column("worst_margin", "float", False, "margin of that rule in its unit"),
        Column("margin_unit", "text", False, "unit of the margin"),
        Column("endpoint", "text", False, "data sheet of the endpoint"),
        Column("endpoint_number", "int", False, "which endpoint of the site, counted from 1"),
        Column("port", "int", False, "pulse input of the endpoint"),
        Column("input", "text", False, "data sheet of the endpoint input"),
        Column("output", "text", False, "data sheet of the pulse output"),
        Column("cable", "text", False, "data sheet of the cable"),
        Column("cable_length_m", "float", False, "run as surveyed [m]"),
        Column("pull_up_ohm", "float", False, "input setting, where the sheet offers a choice"),
        Column("debounce_ms", "float", False, "input setting, where the sheet offers a choice"),
        Column("index_digits", "int", False, "digits of the index"),
        _unit("index_unit", False, "unit of the index"),
        Column("index_resolution", "decimal", False, "value of the least digit sent, in index units"),
        Column("weight_set", "decimal", False, "pulse weight to key"),
        _unit("weight_unit", False, "unit of the weight to key"),
        Column("rollover_days", "float", False, "days until the index turns over at the expected use"),
        Column("start_rule", "text", False, "how the start index follows from the dial, in words"),
        Column("start_example_dial", "digits", False, "an example dial of this meter, every position"),
        Column("start_example_index", "digits", False, "the start index to key for it"),
        Column("tamper_loop", "choice", False, "how the tamper loop is to be left", LOOPS),
        Column("tamper_note", "text", False, "what that costs"),
        Column("proof_kind", "choice", False, "how it is proved", ("tick_to_tick", "draw", "parts")),
        Column("proof_volume", "decimal", False, "how much to draw, in dial units"),
        Column("proof_counts_low", "int", False, "least index step to accept [index_resolution]"),
        Column("proof_counts_high", "int", False, "greatest index step to accept [index_resolution]"),
        Column("proof_minutes", "float", False, "time to draw it at the site's likely tap flow"),
        Column("proof_high_flow", "flag", False, "true where a hose cannot prove it"),
        Column("proof_note", "text", False, "the proof in words"),
        Column("follow_up_days", "int", False, "days until the second dial read that proves the rest"),
        Column("job_minutes", "float", False, "time on site for this register, proof included"),
        Column("skills", "text", False, "skills that the visit asks for"),
        Column("parts", "json", False, "list of part and quantity"),
        Column("cable_cut_m", "float", False, "cable to cut: the run and its slack, rounded up [m]"),
        Column("port_label", "text", False, "what stands on the label of the port"),
        Column("index_note", "text", False, "what the index does not keep; blank if it keeps all"),
    ),
    out=True,
)

KIT: Final = Table(
    "kit",
    "Parts and tools by site, by van and day, and for the programme.",
    (
        Column("scope", "choice", True, "for what the row counts", ("site", "van_day", "programme")),
        Column("scope_id", "text", False, "site, or crew and day; blank for the programme"),
        Column("kind", "choice", True, "what it is", ("endpoint", "cable", "part", "tool")),
        Column("part", "text", True, "key of its data sheet"),
        Column("title", "text", True, "what it is, in words"),
        Column("quantity", "decimal", True, "as planned"),
        Column("spare", "decimal", True, "on top of that"),
        Column("order", "decimal", True, "quantity and spare, in whole units or packs"),
        Column("unit", "text", True, "each or m"),
        Column("rule", "text", False, "why that many spares"),
    ),
    out=True,
)

ROUTES: Final = Table(
    "routes",
    "One row per visit: who goes there, when, in which order.",
    (
        Column("day", "day", True, "the day"),
        Column("crew", "text", True, "name of the crew"),
        Column("stop", "int", True, "order in the day, counted from 1"),
        Column("site", "text", True, "the utility's own id of the place"),
        Column("arrive", "time", True, "arrival"),
        Column("start", "time", True, "start of work, after any waiting"),
        Column("leave", "time", True, "departure"),
        Column("travel_minutes", "float", True, "driving from the stop before"),
        Column("travel_km", "float", False, "distance from the stop before"),
        Column("job_minutes", "float", True, "time on site"),
        Column("break_minutes", "float", False, "break taken before this visit"),
        Column("registers", "int", True, "registers at the site"),
        Column("break_at", "time", False, "start of that break; it is taken before the drive or on arrival"),
        Column("address", "text", False, "street address"),
        Column("mount", "text", False, "where the endpoints will sit"),
        Column("window_from", "text", False, "work begins no earlier, local time HH:MM"),
        Column("window_to", "text", False, "work begins no later, local time HH:MM"),
        Column("endpoints", "int", False, "endpoints to be fitted there"),
        Column("parts", "int", False, "pieces to carry there, endpoints among them"),
        Column("latitude", "float", False, "WGS 84 degrees"),
        Column("longitude", "float", False, "WGS 84 degrees"),
    ),
    out=True,
)

FINDINGS: Final = Table(
    "findings",
    "One row per fitted port.",
    (
        Column("meter_serial", "text", False, "blank where an endpoint was heard without a fitting"),
        Column("endpoint_serial", "text", True, "on the endpoint's label"),
        Column("port", "int", True, "pulse input of the endpoint"),
        Column("register_role", "choice", False, "which register of a compound meter", ROLES),
        Column("fault", "text", True, "fault code"),
        Column("probability", "float", True, "posterior probability of the fault"),
        Column("runner_up", "text", True, "the next most probable code"),
        Column("runner_up_probability", "float", True, "its probability"),
        Column("action", "choice", True, "what to do", ("none", "remote_check", "visit")),
        Column("since", "time", False, "when the count went wrong; blank if sound"),
        Column("since_low", "time", False, "earliest of the 90 % interval of since"),
        Column("since_high", "time", False, "latest of the 90 % interval of since"),
        Column("volume_error_l", "float", False, "registered minus true since the fitting [L]"),
        Column("volume_error_low_l", "float", False, "lower end of the 90 % interval [L]"),
        Column("volume_error_high_l", "float", False, "upper end of the 90 % interval [L]"),
        Column("parameter", "float", False, "ratio, shift in seconds, share or offset that the fault carries"),
        Column("next_check", "text", False, "the one observation that would settle it best"),
        Column("remedy", "text", False, "how it is put right"),
        Column("verdict", "text", False, "one sentence that can be said aloud"),
        Column("evidence", "json", False, "list of rule, says, figures, weight [nat]"),
        Column("priority", "float", False, "expected cost of waiting"),
    ),
    out=True,
)

CROSSINGS: Final = Table(
    "crossings",
    "Pairs or rings of meters whose endpoints are exchanged.",
    (
        Column("ring", "int", True, "number of the pair or ring"),
        Column("meter_serial", "text", True, "on the meter's plate"),
        Column("endpoint_serial", "text", True, "the endpoint recorded at this meter"),
        Column("true_endpoint_serial", "text", True, "the endpoint that counts this meter"),
        Column("true_port", "int", False, "its port"),
        Column("kind", "choice", False, "wires, records, or blank if not known", ("wires", "records")),
        Column("probability", "float", True, "posterior probability of the exchange"),
    ),
    out=True,
)

TABLES_IN: Final = (
    SITES,
    FITTINGS,
    DIAL_READS,
    READS,
    ALARM_TABLE,
    WEATHER,
    USE_HISTORY,
    CHECKS,
    CREWS,
    DISTANCES,
    *SETTLEMENT_IN,
)
TABLES_OUT: Final = (FINDINGS, CROSSINGS, PLAN, KIT, ROUTES, *SETTLEMENT_OUT, FIGURES, VALIDATED_READS)
TABLE: Final[dict[str, Table]] = {table.name: table for table in (*TABLES_IN, *TABLES_OUT)}
