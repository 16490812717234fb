-- Build pages: a vehicle shown read-only to one recipient, under an address that holds a token of which only the hash is kept.

-- `shows` says what is on the pages: {"v":1,"pages":[…],"lets":[…],"journalFrom":…,"withoutPhotos":[…]}.
CREATE TABLE shares (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
  token_hash TEXT NOT NULL CHECK (length(token_hash) = 64),
  household_id TEXT NOT NULL REFERENCES households (id),
  vehicle_id TEXT NOT NULL REFERENCES vehicles (id),
  recipient TEXT NOT NULL CHECK (length(recipient) BETWEEN 1 AND 80),
  shows TEXT NOT NULL CHECK (json_valid(shows)),
  expires_at TEXT NOT NULL,
  revoked_at TEXT,
  last_used_at TEXT,
  recorded_at TEXT NOT NULL,
  recorded_by TEXT NOT NULL REFERENCES people (id)
) STRICT;
CREATE UNIQUE INDEX shares_by_token ON shares (token_hash);
CREATE INDEX shares_by_vehicle ON shares (vehicle_id, id);
CREATE INDEX shares_by_household ON shares (household_id);
