-- Items: what was picked up, the work on it, what it gave, and what of it was sold for reuse.

-- What sort of thing it is. `cautions` are keys of seed/cautions.ts, joined by commas.
CREATE TABLE item_kind (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE COLLATE NOCASE,
  cautions TEXT NOT NULL DEFAULT '',
  -- The grade that a yard takes such a thing as when it is sold as is.
  as_is_grade_id INTEGER REFERENCES grade (id),
  -- Minutes to take one apart, as a rule of thumb: only ever shown as such, and only until there is a history.
  rule_minutes TEXT NOT NULL DEFAULT '',
  note TEXT NOT NULL DEFAULT '',
  seal BLOB
) STRICT;

-- What such a thing gives as a rule of thumb, in percent of its weight. Never mixed with what was weighed.
CREATE TABLE kind_yield (
  item_kind_id INTEGER NOT NULL REFERENCES item_kind (id),
  grade_id INTEGER NOT NULL REFERENCES grade (id),
  percent TEXT NOT NULL,
  seal BLOB,
  PRIMARY KEY (item_kind_id, grade_id)
) STRICT, WITHOUT ROWID;

-- One thing picked up. What is said of it may be put right; the trail keeps what it said before.
CREATE TABLE item (
  id INTEGER PRIMARY KEY,
  item_kind_id INTEGER NOT NULL REFERENCES item_kind (id),
  -- Make, colour, anything that tells it from others of its kind.
  name TEXT NOT NULL DEFAULT '',
  picked_up_on TEXT NOT NULL,
  got TEXT NOT NULL CHECK (got IN ('given', 'found', 'bought')),
  source TEXT NOT NULL DEFAULT '',
  -- Proof that it may be taken, in words; a photo of it is an attachment.
  proof TEXT NOT NULL DEFAULT '',
  cost_minor INTEGER NOT NULL DEFAULT 0 CHECK (cost_minor >= 0),
  weight_typed TEXT NOT NULL DEFAULT '',
  weight_unit TEXT NOT NULL DEFAULT '',
  weight_ug INTEGER CHECK (weight_ug > 0),
  note TEXT NOT NULL DEFAULT '',
  status TEXT NOT NULL DEFAULT 'waiting' CHECK (status IN ('waiting', 'taken apart', 'as is', 'sold whole', 'discarded')),
  -- How far it was taken apart: down to the pieces that yards take as they are, or down to clean metal.
  depth TEXT NOT NULL DEFAULT '' CHECK (depth IN ('', 'coarse', 'fine')),
  closed_on TEXT,
  -- What it cost to throw away, or what was left of it.
  disposal_minor INTEGER NOT NULL DEFAULT 0 CHECK (disposal_minor >= 0),
  recorded_at TEXT NOT NULL,
  seal BLOB,
  CHECK ((status = 'waiting') = (closed_on IS NULL)),
  CHECK ((weight_ug IS NULL) = (weight_typed = ''))
) STRICT;
CREATE INDEX item_by_status ON item (status, picked_up_on, id);
CREATE INDEX item_of_kind ON item (item_kind_id, id);

-- Time spent on an item, started and stopped or typed afterwards.
CREATE TABLE work (
  id INTEGER PRIMARY KEY,
  item_id INTEGER NOT NULL REFERENCES item (id),
  worked_on TEXT NOT NULL,
  seconds INTEGER NOT NULL CHECK (seconds > 0),
  -- As typed; '' when it was started and stopped.
  minutes_typed TEXT NOT NULL DEFAULT '',
  started_at TEXT,
  note TEXT NOT NULL DEFAULT '',
  recorded_at TEXT NOT NULL,
  seal BLOB
) STRICT;
CREATE INDEX work_of_item ON work (item_id);
CREATE TABLE work_undone (
  work_id INTEGER PRIMARY KEY REFERENCES work (id),
  recorded_at TEXT NOT NULL,
  seal BLOB
) STRICT;
-- The items whose time is running now, each since when.
CREATE TABLE work_clock (
  item_id INTEGER PRIMARY KEY REFERENCES item (id),
  started_at TEXT NOT NULL,
  seal BLOB
) STRICT;

-- What an item gave that goes into no bin: waste, and parts kept. What goes into bins are in-weights that name the item.
-- None of this has a grade, so it moves no mass in the ledger; the mass balance of an item is reckoned from documents.
CREATE TABLE item_output (
  id INTEGER PRIMARY KEY,
  item_id INTEGER NOT NULL REFERENCES item (id),
  kind TEXT NOT NULL CHECK (kind IN ('waste', 'part')),
  name TEXT NOT NULL DEFAULT '',
  net_typed TEXT NOT NULL DEFAULT '',
  unit TEXT NOT NULL,
  -- Null for a part that was not weighed.
  net_ug INTEGER CHECK (net_ug > 0),
  occurred_on TEXT NOT NULL,
  recorded_at TEXT NOT NULL,
  seal BLOB,
  CHECK (kind = 'part' OR net_ug IS NOT NULL)
) STRICT;
CREATE INDEX item_output_of_item ON item_output (item_id);
CREATE TABLE item_output_undone (
  item_output_id INTEGER PRIMARY KEY REFERENCES item_output (id),
  recorded_at TEXT NOT NULL,
  seal BLOB
) STRICT;

-- A part, or the whole item when no output is named, sold for reuse.
CREATE TABLE part_sale (
  id INTEGER PRIMARY KEY,
  item_id INTEGER NOT NULL REFERENCES item (id),
  item_output_id INTEGER REFERENCES item_output (id),
  listed_on TEXT,
  sold_on TEXT NOT NULL,
  price_minor INTEGER NOT NULL CHECK (price_minor >= 0),
  fees_minor INTEGER NOT NULL DEFAULT 0 CHECK (fees_minor >= 0),
  postage_minor INTEGER NOT NULL DEFAULT 0 CHECK (postage_minor >= 0),
  note TEXT NOT NULL DEFAULT '',
  recorded_at TEXT NOT NULL,
  seal BLOB
) STRICT;
CREATE INDEX part_sale_of_item ON part_sale (item_id);
CREATE INDEX part_sale_by_day ON part_sale (sold_on, id);
CREATE TABLE part_sale_undone (
  part_sale_id INTEGER PRIMARY KEY REFERENCES part_sale (id),
  recorded_at TEXT NOT NULL,
  seal BLOB
) STRICT;

CREATE TRIGGER work_no_update BEFORE UPDATE ON work WHEN OLD.seal IS NOT NULL BEGIN SELECT RAISE(ABORT, 'work is append-only'); END;
CREATE TRIGGER work_no_delete BEFORE DELETE ON work BEGIN SELECT RAISE(ABORT, 'work is append-only'); END;
CREATE TRIGGER work_undone_no_update BEFORE UPDATE ON work_undone WHEN OLD.seal IS NOT NULL BEGIN SELECT RAISE(ABORT, 'work is append-only'); END;
CREATE TRIGGER work_undone_no_delete BEFORE DELETE ON work_undone BEGIN SELECT RAISE(ABORT, 'work is append-only'); END;
CREATE TRIGGER item_output_no_update BEFORE UPDATE ON item_output WHEN OLD.seal IS NOT NULL BEGIN SELECT RAISE(ABORT, 'what an item gave is append-only'); END;
CREATE TRIGGER item_output_no_delete BEFORE DELETE ON item_output BEGIN SELECT RAISE(ABORT, 'what an item gave is append-only'); END;
CREATE TRIGGER item_output_undone_no_update BEFORE UPDATE ON item_output_undone WHEN OLD.seal IS NOT NULL BEGIN SELECT RAISE(ABORT, 'what an item gave is append-only'); END;
CREATE TRIGGER item_output_undone_no_delete BEFORE DELETE ON item_output_undone BEGIN SELECT RAISE(ABORT, 'what an item gave is append-only'); END;
CREATE TRIGGER part_sale_no_update BEFORE UPDATE ON part_sale WHEN OLD.seal IS NOT NULL BEGIN SELECT RAISE(ABORT, 'sales are append-only'); END;
CREATE TRIGGER part_sale_no_delete BEFORE DELETE ON part_sale BEGIN SELECT RAISE(ABORT, 'sales are append-only'); END;
CREATE TRIGGER part_sale_undone_no_update BEFORE UPDATE ON part_sale_undone WHEN OLD.seal IS NOT NULL BEGIN SELECT RAISE(ABORT, 'sales are append-only'); END;
CREATE TRIGGER part_sale_undone_no_delete BEFORE DELETE ON part_sale_undone BEGIN SELECT RAISE(ABORT, 'sales are append-only'); END;

-- An in-weight says which item it came from, and then comes from that item's account instead of from outside.
ALTER TABLE in_weight ADD COLUMN item_id INTEGER REFERENCES item (id);
CREATE INDEX in_weight_of_item ON in_weight (item_id) WHERE item_id IS NOT NULL;
ALTER TABLE account ADD COLUMN item_id INTEGER REFERENCES item (id);
CREATE UNIQUE INDEX account_of_item ON account (item_id) WHERE item_id IS NOT NULL;

-- Items may have photos.
DROP TRIGGER attachment_of_a_document;
CREATE TRIGGER attachment_of_a_document BEFORE INSERT ON attachment
WHEN NOT CASE NEW.document_kind
  WHEN 'ticket' THEN EXISTS (SELECT 1 FROM ticket WHERE id = NEW.document_id)
  WHEN 'manifest' THEN EXISTS (SELECT 1 FROM manifest WHERE id = NEW.document_id)
  WHEN 'bin' THEN EXISTS (SELECT 1 FROM bin WHERE id = NEW.document_id)
  WHEN 'item' THEN EXISTS (SELECT 1 FROM item WHERE id = NEW.document_id)
  ELSE 0 END
BEGIN SELECT RAISE(ABORT, 'a photo is kept with a document that is there'); END;

-- The words of items are the eighth kind in the search (see 0005_find.sql).
CREATE VIEW item_text (id, text) AS
  SELECT item.id, item_kind.name || char(10) || item.name || char(10) || item.source || char(10) || item.proof
      || char(10) || item.note
      || char(10) || coalesce((SELECT group_concat(name, char(10)) FROM item_output
        WHERE item_output.item_id = item.id AND item_output.name <> ''), '')
      || char(10) || coalesce((SELECT group_concat(note, char(10)) FROM part_sale
        WHERE part_sale.item_id = item.id AND part_sale.note <> ''), '')
      || char(10) || coalesce((SELECT group_concat(note, char(10)) FROM work
        WHERE work.item_id = item.id AND work.note <> ''), '')
    FROM item JOIN item_kind ON item_kind.id = item.item_kind_id;

CREATE TRIGGER item_found AFTER INSERT ON item
BEGIN INSERT INTO found (rowid, text) SELECT 8796093022208 + id, text FROM item_text WHERE id = NEW.id; END;
CREATE TRIGGER item_words_found AFTER UPDATE ON item
  WHEN NEW.item_kind_id <> OLD.item_kind_id OR NEW.name <> OLD.name OR NEW.source <> OLD.source OR NEW.proof <> OLD.proof
    OR NEW.note <> OLD.note
BEGIN UPDATE found SET text = (SELECT text FROM item_text WHERE id = NEW.id) WHERE rowid = 8796093022208 + NEW.id; END;
CREATE TRIGGER item_gone_from_found AFTER DELETE ON item
BEGIN DELETE FROM found WHERE rowid = 8796093022208 + OLD.id; END;
CREATE TRIGGER item_kind_name_found AFTER UPDATE OF name ON item_kind WHEN NEW.name <> OLD.name
BEGIN
  UPDATE found SET text = (SELECT text FROM item_text WHERE id = found.rowid - 8796093022208)
    WHERE rowid IN (SELECT 8796093022208 + id FROM item WHERE item_kind_id = NEW.id);
END;
CREATE TRIGGER item_output_found AFTER INSERT ON item_output WHEN NEW.name <> ''
BEGIN
  UPDATE found SET text = (SELECT text FROM item_text WHERE id = NEW.item_id) WHERE rowid = 8796093022208 + NEW.item_id;
END;
CREATE TRIGGER part_sale_found AFTER INSERT ON part_sale WHEN NEW.note <> ''
BEGIN
  UPDATE found SET text = (SELECT text FROM item_text WHERE id = NEW.item_id) WHERE rowid = 8796093022208 + NEW.item_id;
END;
CREATE TRIGGER work_found AFTER INSERT ON work WHEN NEW.note <> ''
BEGIN
  UPDATE found SET text = (SELECT text FROM item_text WHERE id = NEW.item_id) WHERE rowid = 8796093022208 + NEW.item_id;
END;
