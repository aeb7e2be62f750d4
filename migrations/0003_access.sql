-- Who gets in: one passphrase for the household, the devices that gave it, and the address they find this computer at.

-- None until the person sets one: until then only this computer is answered.
CREATE TABLE passphrase (
  id INTEGER PRIMARY KEY CHECK (id = 1),
  hash TEXT NOT NULL,
  set_at TEXT NOT NULL
) STRICT;

-- A browser that was let in. Of its token only the SHA-256 is kept, which is good for nothing once it is signed out but
-- to know it by its name again. The name stays, because the trail speaks of it.
CREATE TABLE device (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL COLLATE NOCASE,
  token_hash TEXT NOT NULL UNIQUE,
  let_in_by TEXT NOT NULL CHECK (let_in_by IN ('passphrase', 'pairing')),
  signed_in_at TEXT NOT NULL,
  seen_on TEXT NOT NULL,
  signed_out_at TEXT
) STRICT;
CREATE INDEX device_signed_in ON device (name) WHERE signed_out_at IS NULL;

-- The address at home as it was when it changed last, so that a change can be said until somebody has read it.
CREATE TABLE home_address (
  id INTEGER PRIMARY KEY,
  url TEXT NOT NULL,
  seen_on TEXT NOT NULL,
  is_read INTEGER NOT NULL CHECK (is_read IN (0, 1))
) STRICT;
