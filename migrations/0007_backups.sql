-- Backups: what became of each, and by what a file is known to be a backup of this ledger.

-- Append-only. After a restore these lines are older than the folder, so what is there is always looked up in the folder
-- itself; they say what a folder cannot: what failed, why, and when it was last tried to restore.
CREATE TABLE backup_note (
  id INTEGER PRIMARY KEY,
  kind TEXT NOT NULL CHECK (kind IN ('made', 'checked', 'not good', 'failed', 'tried', 'not restorable')),
  occasion TEXT NOT NULL,
  folder TEXT NOT NULL,
  file_name TEXT NOT NULL DEFAULT '',
  byte_count INTEGER CHECK (byte_count >= 0),
  -- The last line of the trail that is in it: as long as there is no later one, nothing was changed since.
  last_event_id INTEGER NOT NULL,
  sentence TEXT NOT NULL DEFAULT '',
  recorded_at TEXT NOT NULL,
  seal BLOB
) STRICT;
CREATE INDEX backup_note_by_kind ON backup_note (kind, id);
CREATE INDEX backup_note_of_file ON backup_note (file_name, id);

CREATE TRIGGER backup_note_no_update BEFORE UPDATE ON backup_note WHEN OLD.seal IS NOT NULL BEGIN SELECT RAISE(ABORT, 'notes on backups are append-only'); END;
CREATE TRIGGER backup_note_no_delete BEFORE DELETE ON backup_note BEGIN SELECT RAISE(ABORT, 'notes on backups are append-only'); END;

-- Two ledgers may keep their backups on the same stick. By this, neither takes the other's for its own.
INSERT OR IGNORE INTO setting (name, value) VALUES ('ledger_id', lower(hex(randomblob(8))));
