-- The trail with what was before and after, quotes and tickets taken back, and the search over words.

-- What an act changed: `detail` in words, `change` as JSON so that it can be put back. Empty where there is nothing to say.
ALTER TABLE event ADD COLUMN detail TEXT NOT NULL DEFAULT '';
ALTER TABLE event ADD COLUMN change TEXT NOT NULL DEFAULT '';
-- The trail of one document. Weigh-ins are nearly all of the trail and are left out, so that none of them writes here.
CREATE INDEX event_of_document ON event (document_kind, document_id, id) WHERE act <> 'weighed in';

-- The devices that ever wrote a line, so that a list of them need not read the whole trail. A weigh-in looks and, as a
-- rule, writes nothing.
CREATE TABLE trail_device (who TEXT PRIMARY KEY) STRICT, WITHOUT ROWID;
INSERT INTO trail_device (who) SELECT DISTINCT who FROM event;
CREATE TRIGGER event_names_device AFTER INSERT ON event WHEN NOT EXISTS (SELECT 1 FROM trail_device WHERE who = NEW.who)
BEGIN INSERT INTO trail_device (who) VALUES (NEW.who); END;

-- A quote that was typed wrong is taken back by a row here, and that is undone by a row in the second table: it counts
-- again. The quote itself stays.
CREATE TABLE quote_take_back (
  id INTEGER PRIMARY KEY,
  quote_id INTEGER NOT NULL REFERENCES quote (id),
  recorded_at TEXT NOT NULL
) STRICT;
CREATE INDEX quote_take_back_of_quote ON quote_take_back (quote_id);
CREATE TABLE quote_take_back_undone (
  quote_take_back_id INTEGER PRIMARY KEY REFERENCES quote_take_back (id),
  recorded_at TEXT NOT NULL
) STRICT;

-- The same for a ticket that should never have been entered: its loads wait for a ticket again.
CREATE TABLE ticket_take_back (
  id INTEGER PRIMARY KEY,
  ticket_id INTEGER NOT NULL REFERENCES ticket (id),
  reason TEXT NOT NULL DEFAULT '',
  recorded_at TEXT NOT NULL
) STRICT;
CREATE INDEX ticket_take_back_of_ticket ON ticket_take_back (ticket_id);
CREATE TABLE ticket_take_back_undone (
  ticket_take_back_id INTEGER PRIMARY KEY REFERENCES ticket_take_back (id),
  recorded_at TEXT NOT NULL
) STRICT;

CREATE TRIGGER quote_take_back_no_update BEFORE UPDATE ON quote_take_back BEGIN SELECT RAISE(ABORT, 'what was taken back stays so noted'); END;
CREATE TRIGGER quote_take_back_no_delete BEFORE DELETE ON quote_take_back BEGIN SELECT RAISE(ABORT, 'what was taken back stays so noted'); END;
CREATE TRIGGER quote_take_back_undone_no_update BEFORE UPDATE ON quote_take_back_undone BEGIN SELECT RAISE(ABORT, 'what was taken back stays so noted'); END;
CREATE TRIGGER quote_take_back_undone_no_delete BEFORE DELETE ON quote_take_back_undone BEGIN SELECT RAISE(ABORT, 'what was taken back stays so noted'); END;
CREATE TRIGGER ticket_take_back_no_update BEFORE UPDATE ON ticket_take_back BEGIN SELECT RAISE(ABORT, 'what was taken back stays so noted'); END;
CREATE TRIGGER ticket_take_back_no_delete BEFORE DELETE ON ticket_take_back BEGIN SELECT RAISE(ABORT, 'what was taken back stays so noted'); END;
CREATE TRIGGER ticket_take_back_undone_no_update BEFORE UPDATE ON ticket_take_back_undone BEGIN SELECT RAISE(ABORT, 'what was taken back stays so noted'); END;
CREATE TRIGGER ticket_take_back_undone_no_delete BEFORE DELETE ON ticket_take_back_undone BEGIN SELECT RAISE(ABORT, 'what was taken back stays so noted'); END;

-- A draft that was set aside may be taken up again: nothing of it was ever loaded.
DROP TRIGGER manifest_goes_forward;
CREATE TRIGGER manifest_goes_forward BEFORE UPDATE ON manifest
  WHEN OLD.status <> 'draft' AND ((NEW.status = 'draft' AND OLD.loaded_on IS NOT NULL) OR NEW.yard_id <> OLD.yard_id
    OR NEW.number <> OLD.number OR NEW.loaded_on IS NOT OLD.loaded_on)
BEGIN SELECT RAISE(ABORT, 'a loaded manifest never changes'); END;

-- Tickets by their total and number and manifests by their number at any yard, for the search.
CREATE INDEX ticket_total_by_amount ON ticket_total (total_minor);
CREATE INDEX ticket_numbered ON ticket (number);
CREATE INDEX manifest_numbered ON manifest (number);

-- The search over what was written in words. A row's id is the kind of document times 2^40, plus the document's id, so
-- that each kind is a range: 1 ticket, 2 manifest, 3 in-weight, 4 recount, 5 move, 6 check of a scale, 7 load brought back.
-- Texts of one document stand on lines of their own. Only documents with words are here.
CREATE VIRTUAL TABLE found USING fts5 (text, tokenize = 'unicode61 remove_diacritics 2', prefix = '2 3 4');

CREATE VIEW ticket_text (id, text) AS
  SELECT ticket.id, ticket.number || char(10) || yard.name || char(10) || ticket.note || char(10) || ticket.replace_reason
      || char(10) || coalesce((SELECT group_concat(description, char(10)) FROM ticket_line
        WHERE ticket_line.ticket_id = ticket.id AND description <> ''), '')
      || char(10) || coalesce((SELECT group_concat(reason, char(10)) FROM ticket_take_back
        WHERE ticket_take_back.ticket_id = ticket.id AND reason <> ''), '')
    FROM ticket JOIN yard ON yard.id = ticket.yard_id;
CREATE VIEW manifest_text (id, text) AS
  SELECT manifest.id, manifest.number || char(10) || yard.name || char(10) || manifest.note
    FROM manifest JOIN yard ON yard.id = manifest.yard_id;

CREATE TRIGGER ticket_found AFTER INSERT ON ticket
BEGIN INSERT INTO found (rowid, text) SELECT 1099511627776 + id, text FROM ticket_text WHERE id = NEW.id; END;
CREATE TRIGGER ticket_line_found AFTER INSERT ON ticket_line WHEN NEW.description <> ''
BEGIN
  UPDATE found SET text = (SELECT text FROM ticket_text WHERE id = NEW.ticket_id) WHERE rowid = 1099511627776 + NEW.ticket_id;
END;
CREATE TRIGGER ticket_take_back_found AFTER INSERT ON ticket_take_back WHEN NEW.reason <> ''
BEGIN
  UPDATE found SET text = (SELECT text FROM ticket_text WHERE id = NEW.ticket_id) WHERE rowid = 1099511627776 + NEW.ticket_id;
END;
CREATE TRIGGER manifest_found AFTER INSERT ON manifest
BEGIN INSERT INTO found (rowid, text) SELECT 2199023255552 + id, text FROM manifest_text WHERE id = NEW.id; END;
CREATE TRIGGER manifest_note_found AFTER UPDATE OF note ON manifest WHEN NEW.note <> OLD.note
BEGIN
  UPDATE found SET text = (SELECT text FROM manifest_text WHERE id = NEW.id) WHERE rowid = 2199023255552 + NEW.id;
END;
CREATE TRIGGER yard_name_found AFTER UPDATE OF name ON yard WHEN NEW.name <> OLD.name
BEGIN
  UPDATE found SET text = (SELECT text FROM ticket_text WHERE id = found.rowid - 1099511627776)
    WHERE rowid IN (SELECT 1099511627776 + id FROM ticket WHERE yard_id = NEW.id);
  UPDATE found SET text = (SELECT text FROM manifest_text WHERE id = found.rowid - 2199023255552)
    WHERE rowid IN (SELECT 2199023255552 + id FROM manifest WHERE yard_id = NEW.id);
END;
CREATE TRIGGER in_weight_found AFTER INSERT ON in_weight WHEN NEW.note <> '' OR NEW.correction_reason <> ''
BEGIN INSERT INTO found (rowid, text) VALUES (3298534883328 + NEW.id, NEW.note || char(10) || NEW.correction_reason); END;
CREATE TRIGGER recount_found AFTER INSERT ON recount WHEN NEW.note <> ''
BEGIN INSERT INTO found (rowid, text) VALUES (4398046511104 + NEW.id, NEW.note); END;
CREATE TRIGGER bin_transfer_found AFTER INSERT ON bin_transfer WHEN NEW.note <> ''
BEGIN INSERT INTO found (rowid, text) VALUES (5497558138880 + NEW.id, NEW.note); END;
CREATE TRIGGER scale_check_found AFTER INSERT ON scale_check WHEN NEW.note <> ''
BEGIN INSERT INTO found (rowid, text) VALUES (6597069766656 + NEW.id, NEW.note); END;
CREATE TRIGGER load_return_found AFTER INSERT ON load_return WHEN NEW.reason <> ''
BEGIN INSERT INTO found (rowid, text) VALUES (7696581394432 + NEW.id, NEW.reason); END;

INSERT INTO found (rowid, text) SELECT 1099511627776 + id, text FROM ticket_text ORDER BY id;
INSERT INTO found (rowid, text) SELECT 2199023255552 + id, text FROM manifest_text ORDER BY id;
INSERT INTO found (rowid, text) SELECT 3298534883328 + id, note || char(10) || correction_reason FROM in_weight
  WHERE note <> '' OR correction_reason <> '' ORDER BY id;
INSERT INTO found (rowid, text) SELECT 4398046511104 + id, note FROM recount WHERE note <> '' ORDER BY id;
INSERT INTO found (rowid, text) SELECT 5497558138880 + id, note FROM bin_transfer WHERE note <> '' ORDER BY id;
INSERT INTO found (rowid, text) SELECT 6597069766656 + id, note FROM scale_check WHERE note <> '' ORDER BY id;
INSERT INTO found (rowid, text) SELECT 7696581394432 + id, reason FROM load_return WHERE reason <> '' ORDER BY id;
