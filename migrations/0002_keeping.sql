-- Photos and papers, prices and leftovers, feeds, jobs, digests of rows, settings and the search index.

-- One photo or paper shown somewhere; the original lies in the photo folder under its SHA-256. `entry_place_id` is the id of the first
-- version of its entry, so that a corrected entry keeps its photos.
CREATE TABLE photos (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
  household_id TEXT NOT NULL REFERENCES households (id),
  vehicle_id TEXT REFERENCES vehicles (id),
  entry_place_id TEXT REFERENCES entries (id),
  part_id TEXT REFERENCES parts (id),
  component_key TEXT,
  sha256 TEXT NOT NULL CHECK (length(sha256) = 64),
  type TEXT NOT NULL,
  bytes INTEGER NOT NULL CHECK (bytes > 0),
  width_px INTEGER CHECK (width_px > 0),
  height_px INTEGER CHECK (height_px > 0),
  file_name TEXT NOT NULL,
  caption TEXT NOT NULL CHECK (length(caption) <= 500),
  once_key TEXT,
  trashed_at TEXT,
  recorded_at TEXT NOT NULL,
  recorded_by TEXT NOT NULL REFERENCES people (id)
) STRICT;
CREATE INDEX photos_by_vehicle ON photos (vehicle_id, id);
CREATE INDEX photos_by_entry ON photos (entry_place_id);
CREATE INDEX photos_by_part ON photos (part_id);
CREATE INDEX photos_by_content ON photos (sha256);
CREATE UNIQUE INDEX photos_once ON photos (household_id, once_key);

-- A position on a photo (as shares of its width and height) that opens a component.
CREATE TABLE photo_marks (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
  household_id TEXT NOT NULL REFERENCES households (id),
  photo_id TEXT NOT NULL REFERENCES photos (id),
  component_key TEXT NOT NULL,
  x REAL NOT NULL CHECK (x BETWEEN 0 AND 1),
  y REAL NOT NULL CHECK (y BETWEEN 0 AND 1),
  recorded_at TEXT NOT NULL,
  recorded_by TEXT NOT NULL REFERENCES people (id)
) STRICT;
CREATE INDEX photo_marks_by_photo ON photo_marks (photo_id);

CREATE TABLE purchases (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
  household_id TEXT NOT NULL REFERENCES households (id),
  part_id TEXT NOT NULL REFERENCES parts (id),
  bought_on TEXT NOT NULL CHECK (bought_on GLOB '[0-9][0-9][0-9][0-9]-[0-1][0-9]-[0-3][0-9]'),
  count INTEGER NOT NULL CHECK (count > 0),
  price_minor INTEGER CHECK (price_minor >= 0),
  supplier TEXT NOT NULL,
  recorded_at TEXT NOT NULL,
  recorded_by TEXT NOT NULL REFERENCES people (id)
) STRICT;
CREATE INDEX purchases_by_part ON purchases (part_id, id);

-- A piece of wire or hose that is left, with its length; used up once `used_at` is set.
CREATE TABLE leftovers (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
  household_id TEXT NOT NULL REFERENCES households (id),
  part_id TEXT NOT NULL REFERENCES parts (id),
  length_m REAL NOT NULL CHECK (length_m > 0),
  place TEXT NOT NULL,
  used_at TEXT,
  recorded_at TEXT NOT NULL,
  recorded_by TEXT NOT NULL REFERENCES people (id)
) STRICT;
CREATE INDEX leftovers_by_part ON leftovers (part_id, id);

-- A feed's address holds its token; only the hash is kept. `vehicle_id` null means all vehicles.
CREATE TABLE feeds (
  token_hash TEXT NOT NULL PRIMARY KEY CHECK (length(token_hash) = 64),
  household_id TEXT NOT NULL REFERENCES households (id),
  vehicle_id TEXT REFERENCES vehicles (id),
  kind TEXT NOT NULL CHECK (kind IN ('due', 'journal')),
  revoked_at TEXT,
  last_used_at TEXT,
  recorded_at TEXT NOT NULL,
  recorded_by TEXT NOT NULL REFERENCES people (id)
) STRICT;
CREATE INDEX feeds_by_household ON feeds (household_id);

-- What the installation does by itself: the last run of each job. `result` is null while it runs.
CREATE TABLE jobs (
  name TEXT NOT NULL PRIMARY KEY,
  started_at TEXT NOT NULL,
  ended_at TEXT,
  result TEXT CHECK (result IN ('done', 'failed')),
  says TEXT NOT NULL
) STRICT;

-- SHA-256 of rows that never change, written with them: SQLite itself does not notice a flipped bit in a text.
CREATE TABLE digests (
  table_name TEXT NOT NULL,
  row_id TEXT NOT NULL,
  household_id TEXT NOT NULL REFERENCES households (id),
  sha256 TEXT NOT NULL CHECK (length(sha256) = 64),
  PRIMARY KEY (table_name, row_id)
) STRICT;
CREATE TRIGGER digests_no_update BEFORE UPDATE ON digests BEGIN SELECT RAISE(ABORT, 'digests are never changed'); END;
CREATE TRIGGER digests_no_delete BEFORE DELETE ON digests BEGIN SELECT RAISE(ABORT, 'digests are never deleted'); END;

CREATE TABLE settings (
  household_id TEXT NOT NULL REFERENCES households (id),
  name TEXT NOT NULL,
  value TEXT NOT NULL,
  PRIMARY KEY (household_id, name)
) STRICT;

-- What can be found, one row a record; the index beside it is made from these rows and can be made again.
CREATE TABLE search_rows (
  id INTEGER NOT NULL PRIMARY KEY,
  household_id TEXT NOT NULL REFERENCES households (id),
  kind TEXT NOT NULL CHECK (kind IN ('entry', 'component', 'part', 'reading')),
  ref_id TEXT NOT NULL,
  vehicle_id TEXT REFERENCES vehicles (id),
  title TEXT NOT NULL,
  body TEXT NOT NULL
) STRICT;
CREATE UNIQUE INDEX search_rows_by_ref ON search_rows (household_id, kind, ref_id);
CREATE INDEX search_rows_by_vehicle ON search_rows (vehicle_id, kind);
CREATE VIRTUAL TABLE search_index USING fts5(title, body, content='search_rows', content_rowid='id', prefix='2 3', tokenize="unicode61 remove_diacritics 2");
CREATE TRIGGER search_rows_insert AFTER INSERT ON search_rows BEGIN
  INSERT INTO search_index (rowid, title, body) VALUES (new.id, new.title, new.body);
END;
CREATE TRIGGER search_rows_delete AFTER DELETE ON search_rows BEGIN
  INSERT INTO search_index (search_index, rowid, title, body) VALUES ('delete', old.id, old.title, old.body);
END;
CREATE TRIGGER search_rows_update AFTER UPDATE ON search_rows BEGIN
  INSERT INTO search_index (search_index, rowid, title, body) VALUES ('delete', old.id, old.title, old.body);
  INSERT INTO search_index (rowid, title, body) VALUES (new.id, new.title, new.body);
END;

-- The row recorded last of each vehicle, whatever its date.
CREATE INDEX entries_by_recording ON entries (vehicle_id);

-- What lists say of a vehicle; made with its projection, and apart from it because a report is long. Never the truth.
CREATE TABLE vehicle_facts (
  vehicle_id TEXT NOT NULL PRIMARY KEY REFERENCES vehicles (id),
  household_id TEXT NOT NULL REFERENCES households (id),
  name TEXT NOT NULL,
  missing TEXT NOT NULL CHECK (json_valid(missing)),
  facts TEXT NOT NULL CHECK (json_valid(facts))
) STRICT;
