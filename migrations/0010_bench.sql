-- At the bench: sorts of wire, samples of them that were stripped and weighed, and whole lots that were stripped.

CREATE TABLE wire_kind (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE COLLATE NOCASE,
  -- What it is sold as with its insulation on, and what its metal is sold as.
  grade_id INTEGER NOT NULL REFERENCES grade (id),
  bare_grade_id INTEGER NOT NULL REFERENCES grade (id),
  note TEXT NOT NULL DEFAULT '',
  seal BLOB
) STRICT;

-- A piece weighed before and after it was stripped.
CREATE TABLE wire_sample (
  id INTEGER PRIMARY KEY,
  wire_kind_id INTEGER NOT NULL REFERENCES wire_kind (id),
  before_typed TEXT NOT NULL,
  after_typed TEXT NOT NULL,
  unit TEXT NOT NULL,
  before_ug INTEGER NOT NULL CHECK (before_ug > 0),
  after_ug INTEGER NOT NULL CHECK (after_ug >= 0 AND after_ug <= before_ug),
  -- How long it took; null when nobody looked.
  seconds INTEGER CHECK (seconds > 0),
  sampled_on TEXT NOT NULL,
  note TEXT NOT NULL DEFAULT '',
  recorded_at TEXT NOT NULL,
  -- The lot that was stripped and kept as a sample; it stands no longer than that lot does.
  stripping_id INTEGER REFERENCES stripping (id),
  seal BLOB
) STRICT;
CREATE INDEX wire_sample_of_kind ON wire_sample (wire_kind_id, id);
CREATE TABLE wire_sample_undone (
  wire_sample_id INTEGER PRIMARY KEY REFERENCES wire_sample (id),
  recorded_at TEXT NOT NULL,
  seal BLOB
) STRICT;

-- Wire out of one bin that was stripped: its metal went into another bin, the rest is waste.
CREATE TABLE stripping (
  id INTEGER PRIMARY KEY,
  from_bin_id INTEGER NOT NULL REFERENCES bin (id),
  to_bin_id INTEGER NOT NULL REFERENCES bin (id),
  before_typed TEXT NOT NULL,
  after_typed TEXT NOT NULL,
  unit TEXT NOT NULL,
  before_ug INTEGER NOT NULL CHECK (before_ug > 0),
  after_ug INTEGER NOT NULL CHECK (after_ug > 0 AND after_ug <= before_ug),
  seconds INTEGER CHECK (seconds > 0),
  occurred_on TEXT NOT NULL,
  note TEXT NOT NULL DEFAULT '',
  recorded_at TEXT NOT NULL,
  seal BLOB,
  CHECK (from_bin_id <> to_bin_id)
) STRICT;

CREATE TRIGGER wire_sample_no_update BEFORE UPDATE ON wire_sample WHEN OLD.seal IS NOT NULL BEGIN SELECT RAISE(ABORT, 'samples are append-only'); END;
CREATE TRIGGER wire_sample_no_delete BEFORE DELETE ON wire_sample BEGIN SELECT RAISE(ABORT, 'samples are append-only'); END;
CREATE TRIGGER wire_sample_undone_no_update BEFORE UPDATE ON wire_sample_undone WHEN OLD.seal IS NOT NULL BEGIN SELECT RAISE(ABORT, 'samples are append-only'); END;
CREATE TRIGGER wire_sample_undone_no_delete BEFORE DELETE ON wire_sample_undone BEGIN SELECT RAISE(ABORT, 'samples are append-only'); END;
CREATE TRIGGER stripping_no_update BEFORE UPDATE ON stripping WHEN OLD.seal IS NOT NULL BEGIN SELECT RAISE(ABORT, 'strippings are append-only'); END;
CREATE TRIGGER stripping_no_delete BEFORE DELETE ON stripping BEGIN SELECT RAISE(ABORT, 'strippings are append-only'); END;

-- Words: strippings are the ninth kind in the search, samples the tenth (see 0005_find.sql).
CREATE TRIGGER stripping_found AFTER INSERT ON stripping WHEN NEW.note <> ''
BEGIN INSERT INTO found (rowid, text) VALUES (9895604649984 + NEW.id, NEW.note); END;
CREATE TRIGGER wire_sample_found AFTER INSERT ON wire_sample WHEN NEW.note <> ''
BEGIN INSERT INTO found (rowid, text) VALUES (10995116277760 + NEW.id, NEW.note); END;
