-- The last good end of each job, digests of rows that change, and indexes for what is asked of a large household.

ALTER TABLE jobs ADD COLUMN last_good_at TEXT;
UPDATE jobs SET last_good_at = ended_at WHERE result = 'done';

-- SHA-256 of rows that may change, written anew with every change.
CREATE TABLE changing_digests (
  table_name TEXT NOT NULL,
  row_id TEXT NOT NULL,
  household_id TEXT NOT NULL REFERENCES households (id),
  sha256 TEXT NOT NULL CHECK (length(sha256) = 64),
  PRIMARY KEY (table_name, row_id)
) STRICT;

-- Few rows among many: what cost something, what was decided, what lies in the trash.
CREATE INDEX entries_by_cost ON entries (household_id, vehicle_id, effective_on, cost_minor, correction, id) WHERE cost_minor IS NOT NULL;
CREATE INDEX changes_decided ON changes (household_id, vehicle_id) WHERE kind = 'decided';
CREATE INDEX photos_in_trash ON photos (household_id, trashed_at, id) WHERE trashed_at IS NOT NULL;
