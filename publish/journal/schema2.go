package journal

// schema2 is what layout 2 adds to layout 1. A new journal is made by running both, so that a migrated one is the same.
//
// reading.word has two more bits: 32 for a sample, which is kept and not published, 64 for a reading whose time of day
// is not certain. They cost no byte.
//
// quarantine names its reading itself, because it outlives the reading when old rows are pruned.
const schema2 = `
CREATE TABLE average ( -- what a reading that closes a window of averaging was made of
	reading INTEGER PRIMARY KEY,
	json TEXT NOT NULL,
	high_u REAL, high_dof REAL, low_u REAL, low_dof REAL -- what averaging adds to the positions, in m; NULL: nothing
) STRICT;

CREATE TABLE generation ( -- results computed anew from readings kept; the first results stay as they are
	id INTEGER PRIMARY KEY AUTOINCREMENT,
	made_ns INTEGER NOT NULL,
	ended_ns INTEGER,          -- NULL: not ended, so not to be relied on
	run TEXT NOT NULL,
	who TEXT NOT NULL,
	why TEXT NOT NULL,
	tag TEXT NOT NULL,
	note TEXT NOT NULL,
	count INTEGER NOT NULL
) STRICT;

CREATE TABLE recomputed (
	generation INTEGER NOT NULL REFERENCES generation(id),
	reading INTEGER NOT NULL,
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
	refusal TEXT,
	PRIMARY KEY (generation, reading)
) STRICT, WITHOUT ROWID;

CREATE TABLE act ( -- what persons did; written once
	id INTEGER PRIMARY KEY AUTOINCREMENT,
	wall_ns INTEGER NOT NULL,
	who TEXT NOT NULL,
	what TEXT NOT NULL,
	subject TEXT NOT NULL,
	old TEXT NOT NULL,
	new TEXT NOT NULL,
	why TEXT NOT NULL,
	prev_hash BLOB,
	hash BLOB
) STRICT;
CREATE TRIGGER act_stays BEFORE UPDATE ON act BEGIN SELECT RAISE(ABORT, 'an act is written once'); END;
CREATE TRIGGER act_remains BEFORE DELETE ON act BEGIN SELECT RAISE(ABORT, 'an act is never deleted'); END;

CREATE TABLE kept ( -- small states that survive a restart
	name TEXT PRIMARY KEY,
	value BLOB NOT NULL,
	wall_ns INTEGER NOT NULL
) STRICT;

CREATE TABLE zero_taken ( -- positions in SI, standard uncertainties beside them
	id INTEGER PRIMARY KEY AUTOINCREMENT,
	instrument TEXT NOT NULL,
	wall_ns INTEGER NOT NULL,
	who TEXT NOT NULL,
	why TEXT NOT NULL,
	high_m REAL, high_u_m REAL,
	low_m REAL, low_u_m REAL,
	indicated REAL, indicated_u REAL,
	temperature_k REAL, temperature_u_k REAL,
	tilt_rad REAL,
	n INTEGER NOT NULL,
	as_found_pa REAL, as_found_u_pa REAL,
	file_zero_hash TEXT NOT NULL,
	dropped_ns INTEGER -- NULL: holds
) STRICT;
CREATE INDEX zero_taken_instrument ON zero_taken(instrument, id);

CREATE TABLE excursion (
	id INTEGER PRIMARY KEY AUTOINCREMENT,
	lim TEXT NOT NULL,
	start_ns INTEGER NOT NULL,
	end_ns INTEGER, -- NULL: still going on
	json TEXT NOT NULL
) STRICT;
CREATE INDEX excursion_lim ON excursion(lim, id);

ALTER TABLE quarantine ADD COLUMN run TEXT NOT NULL DEFAULT '';
ALTER TABLE quarantine ADD COLUMN instrument TEXT NOT NULL DEFAULT '';
ALTER TABLE quarantine ADD COLUMN seq INTEGER NOT NULL DEFAULT 0;
UPDATE quarantine SET (run, instrument, seq) = (SELECT run.name, instrument.name, reading.seq
	FROM reading JOIN stream ON stream.id = reading.stream JOIN run ON run.id = stream.run
	JOIN instrument ON instrument.id = stream.instrument WHERE reading.id = quarantine.reading)
	WHERE reading IN (SELECT id FROM reading);

DROP VIEW readings;
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
	CASE word & 3 WHEN 0 THEN 'good' WHEN 1 THEN 'uncertain' ELSE 'bad' END AS status, status_code,
	trim(substr(' FCSM', (word >> 2 & 7) + 1, 1)) AS ne107, cause_list.causes, coefficient_set.hash AS config, refusal,
	(word & 32) > 0 AS sample, (word & 64) > 0 AS clock_uncertain, average.json AS average
FROM reading
JOIN stream ON stream.id = reading.stream
JOIN run ON run.id = stream.run
JOIN instrument ON instrument.id = stream.instrument
LEFT JOIN cause_list ON cause_list.id = reading.causes
LEFT JOIN coefficient_set ON coefficient_set.id = reading.config
LEFT JOIN average ON average.reading = reading.id;
`
