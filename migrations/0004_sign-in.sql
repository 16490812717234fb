-- Other ways in: passkeys, accounts at a provider of identities, and one-time links for who forgot a password.

-- Only to know somebody again who comes from a provider that vouches for the address; nothing is sent to it.
ALTER TABLE people ADD COLUMN email TEXT;
ALTER TABLE people ADD COLUMN email_folded TEXT;
CREATE UNIQUE INDEX people_by_email ON people (email_folded);

-- 1: begun on a provider's word, so that the password is still to be given before what matters.
ALTER TABLE sign_in_tickets ADD COLUMN is_by_others INTEGER NOT NULL DEFAULT 0 CHECK (is_by_others IN (0, 1));

CREATE TABLE passkeys (
  id TEXT NOT NULL PRIMARY KEY CHECK (length(id) = 36),
  household_id TEXT NOT NULL REFERENCES households (id),
  person_id TEXT NOT NULL REFERENCES people (id),
  credential_id TEXT NOT NULL,
  -- a COSE key (RFC 9052), base64url
  public_key TEXT NOT NULL,
  sign_count INTEGER NOT NULL CHECK (sign_count >= 0),
  -- JSON, as the browser named them
  transports TEXT NOT NULL,
  -- the host name that it was made for: it works nowhere else
  relying_party TEXT NOT NULL,
  name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 80),
  last_used_at TEXT,
  recorded_at TEXT NOT NULL
) STRICT;
CREATE UNIQUE INDEX passkeys_by_credential ON passkeys (credential_id);
CREATE INDEX passkeys_by_person ON passkeys (person_id);

-- Who at a provider is who here.
CREATE TABLE identities (
  issuer TEXT NOT NULL,
  subject TEXT NOT NULL,
  household_id TEXT NOT NULL REFERENCES households (id),
  person_id TEXT NOT NULL REFERENCES people (id),
  label TEXT NOT NULL,
  last_used_at TEXT,
  recorded_at TEXT NOT NULL,
  PRIMARY KEY (issuer, subject)
) STRICT;
CREATE INDEX identities_by_person ON identities (person_id);

CREATE TABLE password_resets (
  token_hash TEXT NOT NULL PRIMARY KEY CHECK (length(token_hash) = 64),
  household_id TEXT NOT NULL REFERENCES households (id),
  person_id TEXT NOT NULL REFERENCES people (id),
  expires_at TEXT NOT NULL,
  used_at TEXT,
  recorded_at TEXT NOT NULL
) STRICT;
CREATE INDEX password_resets_by_person ON password_resets (person_id);
