package journal

// applicationID marks the file as a journal of this program: the four letters "mano".
const applicationID = 0x6d616e6f

// schemaVersion is what user_version says. A file of a later version is refused, one of an earlier is brought forward
// when it is opened for writing, in one transaction.
const schemaVersion = 2

// steps lead from one layout to the next: step n makes layout n+1 out of layout n, layout 0 being an empty file. A step
// that has been released is never changed.
var steps = [schemaVersion]string{schema1, schema2}

// schema1 makes an empty journal of layout 1.
//
// Names that repeat in every row (run, instrument, coefficient set, list of causes) are kept once and referred to by
// number, and the times of day have no index: rows are in order of arrival, and every span of them notes the earliest
// and latest time in it, which is enough to find a period even when the clock was set back.
//
// reading, columns that are not plain:
//
//	high, low, temperature  an INTEGER is micrometres or thousandths of a degree Celsius, taken where it gives back
//	                        exactly the same number; a REAL is metres or kelvin; a TEXT is nan, +inf or -inf
//	skew_ns                 monotonic time since the start of the run, less the wall time since then
//	coverage_factor         NULL where there is no pressure
//	effective_dof           NULL for infinite
//	expanded_u              NULL where it is coverage_factor · combined_u to the last bit
//	kind                    0 none, 1 differential, 2 absolute
//	word                    status, plus 4 times the place of the letter in " FCSM"
//	refusal                 JSON, where the reading was refused
//
// The view readings has them in plain units.
const schema1 = `
CREATE TABLE run (
	id INTEGER PRIMARY KEY,
	name TEXT NOT NULL UNIQUE,
	bridge TEXT NOT NULL,
	started_ns INTEGER NOT NULL,
	ended_ns INTEGER
) STRICT;

CREATE TABLE instrument (
	id INTEGER PRIMARY KEY,
	name TEXT NOT NULL UNIQUE
) STRICT;

CREATE TABLE stream ( -- one instrument in one run; the last_ columns hold up to the end of the last span
	id INTEGER PRIMARY KEY,
	run INTEGER NOT NULL REFERENCES run(id),
	instrument INTEGER NOT NULL REFERENCES instrument(id),
	last_id INTEGER,
	last_seq INTEGER,
	last_ns INTEGER,
	max_ns INTEGER,
	UNIQUE (run, instrument)
) STRICT;

CREATE TABLE coefficient_set (
	id INTEGER PRIMARY KEY,
	hash TEXT NOT NULL UNIQUE,
	instrument TEXT,
	text TEXT
) STRICT;

CREATE TABLE cause_list (
	id INTEGER PRIMARY KEY,
	causes TEXT NOT NULL UNIQUE -- worst first, separated by a space
) STRICT;

CREATE TABLE reading (
	id INTEGER PRIMARY KEY AUTOINCREMENT, -- never used again, so that a cursor never waits for a number that went by
	stream INTEGER NOT NULL REFERENCES stream(id),
	seq INTEGER NOT NULL,
	wall_ns INTEGER NOT NULL,
	skew_ns INTEGER NOT NULL,
	frame BLOB,
	high ANY,
	low ANY,
	indicated ANY,
	temperature ANY,
	tilt ANY,
	ambient_temperature ANY,
	ambient_pressure ANY,
	ambient_humidity ANY,
	kind INTEGER NOT NULL,
	pressure REAL,
	combined_u REAL,
	coverage_factor REAL,
	expanded_u REAL,
	effective_dof REAL,
	head REAL,
	word INTEGER NOT NULL,
	status_code INTEGER NOT NULL,
	causes INTEGER REFERENCES cause_list(id),
	config INTEGER REFERENCES coefficient_set(id),
	refusal TEXT
) STRICT;

CREATE TABLE span (
	first_id INTEGER PRIMARY KEY,
	last_id INTEGER NOT NULL,
	min_ns INTEGER NOT NULL,
	max_ns INTEGER NOT NULL
) STRICT;
CREATE INDEX span_max_ns ON span(max_ns);

CREATE TABLE cursor (
	sink TEXT PRIMARY KEY,
	live INTEGER NOT NULL
) STRICT;

CREATE TABLE late_range (
	sink TEXT NOT NULL,
	from_id INTEGER NOT NULL,
	until_id INTEGER NOT NULL,
	PRIMARY KEY (sink, from_id)
) STRICT, WITHOUT ROWID;

CREATE TABLE gap (
	id INTEGER PRIMARY KEY AUTOINCREMENT,
	instrument TEXT NOT NULL,
	run TEXT NOT NULL,
	cause TEXT NOT NULL,
	from_seq INTEGER NOT NULL,  -- first and last seq in it; 0 where none was given
	until_seq INTEGER NOT NULL,
	from_ns INTEGER NOT NULL,
	until_ns INTEGER,           -- NULL: still open
	count INTEGER NOT NULL,     -- readings lost; 0 where nobody can know
	note TEXT NOT NULL
) STRICT;

CREATE TABLE port_refusal (
	id INTEGER PRIMARY KEY AUTOINCREMENT,
	run TEXT NOT NULL,
	port TEXT NOT NULL,
	wall_ns INTEGER NOT NULL,
	cause TEXT NOT NULL,
	frame BLOB,
	note TEXT NOT NULL,
	count INTEGER NOT NULL
) STRICT;

CREATE TABLE quarantine (
	id INTEGER PRIMARY KEY AUTOINCREMENT,
	sink TEXT NOT NULL,
	reading INTEGER NOT NULL,
	wall_ns INTEGER NOT NULL,
	reason TEXT NOT NULL,
	UNIQUE (sink, reading)
) STRICT;

CREATE TABLE event (
	id INTEGER PRIMARY KEY AUTOINCREMENT,
	run TEXT NOT NULL,
	wall_ns INTEGER NOT NULL,
	since_start_ns INTEGER NOT NULL,
	code TEXT NOT NULL,
	instrument TEXT NOT NULL,
	note TEXT NOT NULL
) STRICT;

CREATE VIEW readings AS SELECT
	reading.id, run.name AS run, instrument.name AS instrument, reading.seq,
	strftime('%Y-%m-%dT%H:%M:%S', reading.wall_ns / 1000000000, 'unixepoch')
		|| printf('.%09dZ', reading.wall_ns % 1000000000) AS time,
	reading.wall_ns, reading.wall_ns - run.started_ns + reading.skew_ns AS since_start_ns,
	CAST(frame AS TEXT) AS frame,
	CASE typeof(high) WHEN 'integer' THEN high / 1000.0 WHEN 'real' THEN high * 1000.0 ELSE high END AS high_mm,
	CASE typeof(low) WHEN 'integer' THEN low / 1000.0 WHEN 'real' THEN low * 1000.0 ELSE low END AS low_mm,
	indicated,
	CASE typeof(temperature) WHEN 'integer' THEN temperature / 1000.0 WHEN 'real' THEN temperature - 273.15
		ELSE temperature END AS temperature_c,
	tilt AS tilt_rad, ambient_temperature AS ambient_k, ambient_pressure AS ambient_pa, ambient_humidity,
	CASE kind WHEN 1 THEN pressure END AS differential_pressure_pa,
	CASE kind WHEN 2 THEN pressure END AS absolute_pressure_pa,
	combined_u AS combined_u_pa, coverage_factor,
	CASE WHEN kind > 0 THEN coalesce(expanded_u, coverage_factor * combined_u) END AS expanded_uncertainty_pa,
	head * 1000.0 AS head_mm,
	CASE word % 4 WHEN 0 THEN 'good' WHEN 1 THEN 'uncertain' ELSE 'bad' END AS status, status_code,
	trim(substr(' FCSM', word / 4 + 1, 1)) AS ne107, cause_list.causes, coefficient_set.hash AS config, refusal
FROM reading
JOIN stream ON stream.id = reading.stream
JOIN run ON run.id = stream.run
JOIN instrument ON instrument.id = stream.instrument
LEFT JOIN cause_list ON cause_list.id = reading.causes
LEFT JOIN coefficient_set ON coefficient_set.id = reading.config;
`
