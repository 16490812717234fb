-- The first tables: people, vehicles, the journal, parts, stock and the projection of each vehicle's head.

CREATE TABLE households (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
  recorded_at TEXT NOT NULL
) STRICT;

CREATE TABLE people (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
  household_id TEXT NOT NULL REFERENCES households (id),
  name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 80),
  name_folded TEXT NOT NULL,
  password_hash TEXT NOT NULL CHECK (password_hash LIKE 'scrypt$%'),
  recorded_at TEXT NOT NULL
) STRICT;
CREATE UNIQUE INDEX people_by_name ON people (name_folded);

CREATE TABLE sessions (
  token_hash TEXT NOT NULL PRIMARY KEY CHECK (length(token_hash) = 64),
  household_id TEXT NOT NULL REFERENCES households (id),
  person_id TEXT NOT NULL REFERENCES people (id),
  form_secret TEXT NOT NULL CHECK (length(form_secret) >= 32),
  started_at TEXT NOT NULL,
  expires_at TEXT NOT NULL
) STRICT;
CREATE INDEX sessions_by_person ON sessions (person_id);

CREATE TABLE vehicles (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
  household_id TEXT NOT NULL REFERENCES households (id),
  name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 120),
  system_voltage_v REAL NOT NULL CHECK (system_voltage_v > 0),
  notes TEXT NOT NULL,
  recorded_at TEXT NOT NULL,
  recorded_by TEXT NOT NULL REFERENCES people (id)
) STRICT;
CREATE INDEX vehicles_by_household ON vehicles (household_id);

-- `corrects_id` with `correction`: a withdrawal of that entry, or the version that takes its place.
-- `place_id` is the id of the first version: (effective_on, place_id) is the order of the journal.
CREATE TABLE entries (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
  household_id TEXT NOT NULL REFERENCES households (id),
  vehicle_id TEXT NOT NULL REFERENCES vehicles (id),
  effective_on TEXT NOT NULL CHECK (effective_on GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
  place_id TEXT NOT NULL CHECK (length(place_id) = 36),
  recorded_at TEXT NOT NULL,
  recorded_by TEXT NOT NULL REFERENCES people (id),
  title TEXT NOT NULL CHECK (length(title) >= 1),
  text TEXT NOT NULL,
  odometer_km REAL CHECK (odometer_km >= 0),
  cost_minor INTEGER CHECK (cost_minor >= 0),
  corrects_id TEXT REFERENCES entries (id),
  correction TEXT CHECK (correction IN ('withdrawn', 'replaced')),
  once_key TEXT,
  shown TEXT CHECK (json_valid(shown)),
  CHECK ((corrects_id IS NULL) = (correction IS NULL))
) STRICT;
CREATE INDEX entries_by_vehicle ON entries (vehicle_id, effective_on, place_id);
CREATE UNIQUE INDEX entries_once ON entries (household_id, once_key);
CREATE INDEX entries_by_correction ON entries (corrects_id);

CREATE TABLE changes (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
  household_id TEXT NOT NULL REFERENCES households (id),
  vehicle_id TEXT NOT NULL REFERENCES vehicles (id),
  entry_id TEXT NOT NULL REFERENCES entries (id),
  position INTEGER NOT NULL CHECK (position >= 0),
  kind TEXT NOT NULL,
  v INTEGER NOT NULL CHECK (v >= 1),
  payload TEXT NOT NULL CHECK (json_valid(payload))
) STRICT;
CREATE UNIQUE INDEX changes_by_entry ON changes (entry_id, position);
CREATE INDEX changes_by_vehicle ON changes (vehicle_id);

CREATE TABLE parts (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
  household_id TEXT NOT NULL REFERENCES households (id),
  kind TEXT NOT NULL,
  recorded_at TEXT NOT NULL,
  recorded_by TEXT NOT NULL REFERENCES people (id)
) STRICT;
CREATE INDEX parts_by_household ON parts (household_id);

CREATE TABLE part_revisions (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
  household_id TEXT NOT NULL REFERENCES households (id),
  part_id TEXT NOT NULL REFERENCES parts (id),
  name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 200),
  v INTEGER NOT NULL CHECK (v >= 1),
  ratings TEXT NOT NULL CHECK (json_valid(ratings)),
  evidence TEXT NOT NULL CHECK (json_valid(evidence)),
  notes TEXT NOT NULL,
  recorded_at TEXT NOT NULL,
  recorded_by TEXT NOT NULL REFERENCES people (id)
) STRICT;
CREATE INDEX part_revisions_by_part ON part_revisions (part_id, id);
CREATE INDEX part_revisions_by_household ON part_revisions (household_id, id);

CREATE TABLE stock_counts (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
  household_id TEXT NOT NULL REFERENCES households (id),
  part_id TEXT NOT NULL REFERENCES parts (id),
  count INTEGER NOT NULL CHECK (count >= 0),
  place TEXT,
  recorded_at TEXT NOT NULL,
  recorded_by TEXT NOT NULL REFERENCES people (id)
) STRICT;
CREATE INDEX stock_counts_by_part ON stock_counts (part_id, id);

CREATE TABLE stock_moves (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
  household_id TEXT NOT NULL REFERENCES households (id),
  part_id TEXT NOT NULL REFERENCES parts (id),
  entry_id TEXT NOT NULL REFERENCES entries (id),
  by_count INTEGER NOT NULL CHECK (by_count <> 0)
) STRICT;
CREATE INDEX stock_moves_by_part ON stock_moves (part_id, id);
CREATE INDEX stock_moves_by_entry ON stock_moves (entry_id);

-- Never the truth: rebuilt whenever its keys no longer match.
CREATE TABLE projections (
  vehicle_id TEXT NOT NULL PRIMARY KEY REFERENCES vehicles (id),
  household_id TEXT NOT NULL REFERENCES households (id),
  last_entry_id TEXT NOT NULL,
  parts_digest TEXT NOT NULL,
  check_version TEXT NOT NULL,
  stale INTEGER NOT NULL CHECK (stale IN (0, 1)),
  document TEXT NOT NULL CHECK (json_valid(document)),
  report TEXT NOT NULL CHECK (json_valid(report))
) STRICT;

-- Which parts the projected head of a vehicle holds, so that a part's revision finds the vehicles it concerns.
CREATE TABLE projection_parts (
  vehicle_id TEXT NOT NULL REFERENCES vehicles (id),
  part_id TEXT NOT NULL REFERENCES parts (id),
  household_id TEXT NOT NULL REFERENCES households (id),
  PRIMARY KEY (vehicle_id, part_id)
) STRICT;
CREATE INDEX projection_parts_by_part ON projection_parts (part_id);

CREATE TRIGGER entries_no_update BEFORE UPDATE ON entries BEGIN SELECT RAISE(ABORT, 'entries are never changed'); END;
CREATE TRIGGER entries_no_delete BEFORE DELETE ON entries BEGIN SELECT RAISE(ABORT, 'entries are never deleted'); END;
CREATE TRIGGER changes_no_update BEFORE UPDATE ON changes BEGIN SELECT RAISE(ABORT, 'changes are never changed'); END;
CREATE TRIGGER changes_no_delete BEFORE DELETE ON changes BEGIN SELECT RAISE(ABORT, 'changes are never deleted'); END;
CREATE TRIGGER parts_no_update BEFORE UPDATE ON parts BEGIN SELECT RAISE(ABORT, 'parts are never changed'); END;
CREATE TRIGGER parts_no_delete BEFORE DELETE ON parts BEGIN SELECT RAISE(ABORT, 'parts are never deleted'); END;
CREATE TRIGGER part_revisions_no_update BEFORE UPDATE ON part_revisions BEGIN SELECT RAISE(ABORT, 'part revisions are never changed'); END;
CREATE TRIGGER part_revisions_no_delete BEFORE DELETE ON part_revisions BEGIN SELECT RAISE(ABORT, 'part revisions are never deleted'); END;
