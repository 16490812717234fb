-- Several people with roles, invitations, second factors, known devices, tokens for programs, and the log of what concerns security.

ALTER TABLE people ADD COLUMN role TEXT NOT NULL DEFAULT 'owner' CHECK (role IN ('owner', 'editor', 'viewer'));
ALTER TABLE people ADD COLUMN disabled_at TEXT;
-- A shared secret in base 32 (RFC 6238), and the last time step that was used, so that a code works once.
ALTER TABLE people ADD COLUMN second_factor TEXT;
ALTER TABLE people ADD COLUMN second_factor_step INTEGER;

ALTER TABLE sessions ADD COLUMN device TEXT NOT NULL DEFAULT '';
ALTER TABLE sessions ADD COLUMN address TEXT NOT NULL DEFAULT '';
ALTER TABLE sessions ADD COLUMN last_used_at TEXT;
-- When the password was last given in this session: acts that matter ask for it again after a while.
ALTER TABLE sessions ADD COLUMN confirmed_at TEXT;

CREATE TABLE invitations (
  token_hash TEXT NOT NULL PRIMARY KEY CHECK (length(token_hash) = 64),
  household_id TEXT NOT NULL REFERENCES households (id),
  role TEXT NOT NULL CHECK (role IN ('owner', 'editor', 'viewer')),
  expires_at TEXT NOT NULL,
  used_at TEXT,
  revoked_at TEXT,
  recorded_at TEXT NOT NULL,
  recorded_by TEXT NOT NULL REFERENCES people (id)
) STRICT;
CREATE INDEX invitations_by_household ON invitations (household_id);

-- The password was right; the second factor is still to come.
CREATE TABLE sign_in_tickets (
  token_hash TEXT NOT NULL PRIMARY KEY CHECK (length(token_hash) = 64),
  household_id TEXT NOT NULL REFERENCES households (id),
  person_id TEXT NOT NULL REFERENCES people (id),
  expires_at TEXT NOT NULL,
  tries INTEGER NOT NULL
) STRICT;
CREATE INDEX sign_in_tickets_by_person ON sign_in_tickets (person_id);

CREATE TABLE recovery_codes (
  code_hash TEXT NOT NULL PRIMARY KEY CHECK (length(code_hash) = 64),
  household_id TEXT NOT NULL REFERENCES households (id),
  person_id TEXT NOT NULL REFERENCES people (id),
  used_at TEXT
) STRICT;
CREATE INDEX recovery_codes_by_person ON recovery_codes (person_id);

-- A device that has signed in before: guessing from elsewhere cannot lock it out.
CREATE TABLE known_devices (
  token_hash TEXT NOT NULL PRIMARY KEY CHECK (length(token_hash) = 64),
  household_id TEXT NOT NULL REFERENCES households (id),
  person_id TEXT NOT NULL REFERENCES people (id),
  last_used_at TEXT NOT NULL
) STRICT;
CREATE INDEX known_devices_by_person ON known_devices (person_id);

CREATE TABLE api_tokens (
  token_hash TEXT NOT NULL PRIMARY KEY CHECK (length(token_hash) = 64),
  household_id TEXT NOT NULL REFERENCES households (id),
  person_id TEXT NOT NULL REFERENCES people (id),
  name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 80),
  scope TEXT NOT NULL CHECK (scope IN ('read', 'write')),
  expires_at TEXT,
  revoked_at TEXT,
  last_used_at TEXT,
  recorded_at TEXT NOT NULL
) STRICT;
CREATE INDEX api_tokens_by_household ON api_tokens (household_id);

CREATE TABLE idempotency_keys (
  household_id TEXT NOT NULL REFERENCES households (id),
  once_key TEXT NOT NULL,
  request_sha256 TEXT NOT NULL CHECK (length(request_sha256) = 64),
  status INTEGER NOT NULL,
  body TEXT NOT NULL,
  recorded_at TEXT NOT NULL,
  PRIMARY KEY (household_id, once_key)
) STRICT;

CREATE TABLE webhooks (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
  household_id TEXT NOT NULL REFERENCES households (id),
  url TEXT NOT NULL,
  secret TEXT NOT NULL,
  revoked_at TEXT,
  recorded_at TEXT NOT NULL,
  recorded_by TEXT NOT NULL REFERENCES people (id)
) STRICT;
CREATE INDEX webhooks_by_household ON webhooks (household_id);

CREATE TABLE webhook_deliveries (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
  household_id TEXT NOT NULL REFERENCES households (id),
  webhook_id TEXT NOT NULL REFERENCES webhooks (id),
  event_key TEXT NOT NULL,
  body TEXT NOT NULL,
  tries INTEGER NOT NULL,
  next_at TEXT,
  says TEXT NOT NULL,
  recorded_at TEXT NOT NULL
) STRICT;
CREATE UNIQUE INDEX webhook_deliveries_once ON webhook_deliveries (webhook_id, event_key);
CREATE INDEX webhook_deliveries_waiting ON webhook_deliveries (next_at);

CREATE TABLE security_events (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
  household_id TEXT,
  person_id TEXT,
  kind TEXT NOT NULL,
  says TEXT NOT NULL,
  address TEXT NOT NULL,
  recorded_at TEXT NOT NULL
) STRICT;
CREATE INDEX security_events_by_household ON security_events (household_id, id);
CREATE TRIGGER security_events_no_update BEFORE UPDATE ON security_events BEGIN SELECT RAISE(ABORT, 'security events are never changed'); END;
