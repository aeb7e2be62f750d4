-- The ledger: set-up, mass accounts and transfers, prices, manifests, tickets, and what is derived from them.
-- Conventions: masses are whole micrograms (_ug), money whole minor units (_minor), days ISO local dates (_on),
-- instants UTC (_at). What a person typed or a yard printed is kept as text beside what was understood.

CREATE TABLE setting (
  name TEXT PRIMARY KEY,
  value TEXT NOT NULL
) STRICT;

CREATE TABLE grade (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE COLLATE NOCASE,
  family TEXT NOT NULL,
  quoted_per TEXT NOT NULL,
  code TEXT NOT NULL DEFAULT '',
  falls_back_to_id INTEGER REFERENCES grade (id),
  recognise TEXT NOT NULL DEFAULT '',
  spoiled_by TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE container (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE COLLATE NOCASE,
  tare_typed TEXT NOT NULL,
  tare_ug INTEGER NOT NULL CHECK (tare_ug >= 0)
) STRICT;

CREATE TABLE scale (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE COLLATE NOCASE,
  division TEXT NOT NULL DEFAULT '',
  unit TEXT NOT NULL,
  class TEXT NOT NULL DEFAULT '',
  tolerance TEXT NOT NULL DEFAULT '',
  capacity TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE yard (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE COLLATE NOCASE,
  unit TEXT NOT NULL,
  cash_step_minor INTEGER NOT NULL DEFAULT 1 CHECK (cash_step_minor >= 1),
  scale_division TEXT NOT NULL DEFAULT '',
  scale_class TEXT NOT NULL DEFAULT '',
  notes TEXT NOT NULL DEFAULT ''
) STRICT;

-- The yard's own name for a grade, as its price board and its tickets print it.
CREATE TABLE yard_grade (
  yard_id INTEGER NOT NULL REFERENCES yard (id),
  grade_id INTEGER NOT NULL REFERENCES grade (id),
  name TEXT NOT NULL,
  PRIMARY KEY (yard_id, grade_id)
) STRICT, WITHOUT ROWID;

CREATE TABLE bin (
  id INTEGER PRIMARY KEY,
  code TEXT NOT NULL UNIQUE COLLATE NOCASE,
  grade_id INTEGER NOT NULL REFERENCES grade (id),
  place TEXT NOT NULL DEFAULT '',
  container_id INTEGER REFERENCES container (id),
  scale_id INTEGER REFERENCES scale (id),
  full_mark_typed TEXT NOT NULL DEFAULT '',
  full_mark_ug INTEGER,
  opened_on TEXT NOT NULL,
  closed_on TEXT
) STRICT;

CREATE TRIGGER bin_keeps_its_grade BEFORE UPDATE OF grade_id ON bin WHEN NEW.grade_id <> OLD.grade_id
BEGIN SELECT RAISE(ABORT, 'a bin never changes its grade'); END;

-- Mass accounts. One for each bin and each load (manifest line); one each of the other kinds.
CREATE TABLE account (
  id INTEGER PRIMARY KEY,
  kind TEXT NOT NULL CHECK (kind IN ('bin', 'item', 'outside', 'load', 'sold', 'deducted', 'scale_difference',
    'count_difference', 'waste', 'parts', 'loss')),
  bin_id INTEGER UNIQUE REFERENCES bin (id),
  manifest_line_id INTEGER UNIQUE REFERENCES manifest_line (id)
) STRICT;

CREATE TABLE in_weight (
  id INTEGER PRIMARY KEY,
  bin_id INTEGER NOT NULL REFERENCES bin (id),
  scale_id INTEGER REFERENCES scale (id),
  container_id INTEGER REFERENCES container (id),
  gross_typed TEXT NOT NULL,
  tare_typed TEXT NOT NULL,
  unit TEXT NOT NULL,
  gross_ug INTEGER NOT NULL CHECK (gross_ug > 0),
  tare_ug INTEGER NOT NULL CHECK (tare_ug >= 0),
  net_ug INTEGER NOT NULL CHECK (net_ug > 0 AND net_ug = gross_ug - tare_ug),
  is_estimate INTEGER NOT NULL DEFAULT 0 CHECK (is_estimate IN (0, 1)),
  note TEXT NOT NULL DEFAULT '',
  occurred_on TEXT NOT NULL,
  recorded_at TEXT NOT NULL,
  corrects_id INTEGER REFERENCES in_weight (id),
  correction_reason TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX in_weight_by_day ON in_weight (occurred_on, id);
-- Corrected once at most. Only corrections are in the index, so that a weigh-in does not write to it.
CREATE UNIQUE INDEX in_weight_corrected ON in_weight (corrects_id) WHERE corrects_id IS NOT NULL;

CREATE TABLE recount (
  id INTEGER PRIMARY KEY,
  bin_id INTEGER NOT NULL REFERENCES bin (id),
  net_typed TEXT NOT NULL,
  unit TEXT NOT NULL,
  net_ug INTEGER NOT NULL CHECK (net_ug >= 0),
  difference_ug INTEGER NOT NULL,
  note TEXT NOT NULL DEFAULT '',
  occurred_on TEXT NOT NULL,
  recorded_at TEXT NOT NULL
) STRICT;

-- Material moved from one bin to another, for example because it turned out to be another grade.
CREATE TABLE bin_transfer (
  id INTEGER PRIMARY KEY,
  from_bin_id INTEGER NOT NULL REFERENCES bin (id),
  to_bin_id INTEGER NOT NULL REFERENCES bin (id),
  net_typed TEXT NOT NULL,
  unit TEXT NOT NULL,
  net_ug INTEGER NOT NULL CHECK (net_ug > 0),
  note TEXT NOT NULL DEFAULT '',
  occurred_on TEXT NOT NULL,
  recorded_at TEXT NOT NULL,
  CHECK (from_bin_id <> to_bin_id)
) STRICT;

CREATE TABLE transfer (
  id INTEGER PRIMARY KEY,
  from_account_id INTEGER NOT NULL REFERENCES account (id),
  to_account_id INTEGER NOT NULL REFERENCES account (id),
  grade_id INTEGER NOT NULL REFERENCES grade (id),
  mass_ug INTEGER NOT NULL CHECK (mass_ug > 0),
  occurred_on TEXT NOT NULL,
  recorded_at TEXT NOT NULL,
  reason TEXT NOT NULL,
  document_kind TEXT NOT NULL,
  document_id INTEGER NOT NULL,
  reverses_id INTEGER REFERENCES transfer (id),
  CHECK (from_account_id <> to_account_id)
) STRICT;
CREATE INDEX transfer_out ON transfer (from_account_id, occurred_on, id);
CREATE INDEX transfer_in ON transfer (to_account_id, occurred_on, id);
CREATE INDEX transfer_of_document ON transfer (document_kind, document_id);
-- Reversed once at most; as above, only reversals are in the index.
CREATE UNIQUE INDEX transfer_reversed ON transfer (reverses_id) WHERE reverses_id IS NOT NULL;

-- The mass of each grade in each account, kept in step by the trigger below. `since_on` is the day of the oldest
-- material at most: the first transfer in after the account was last empty.
CREATE TABLE balance (
  account_id INTEGER NOT NULL REFERENCES account (id),
  grade_id INTEGER NOT NULL REFERENCES grade (id),
  mass_ug INTEGER NOT NULL,
  since_on TEXT NOT NULL,
  PRIMARY KEY (account_id, grade_id)
) STRICT, WITHOUT ROWID;

-- What is held now, so that "which loads are still out" reads those and not every load there ever was.
CREATE INDEX balance_held ON balance (mass_ug) WHERE mass_ug > 0;

CREATE TRIGGER transfer_moves_balances AFTER INSERT ON transfer
BEGIN
  INSERT INTO balance (account_id, grade_id, mass_ug, since_on)
    VALUES (NEW.to_account_id, NEW.grade_id, NEW.mass_ug, NEW.occurred_on)
    ON CONFLICT (account_id, grade_id) DO UPDATE SET
      since_on = CASE WHEN mass_ug = 0 OR excluded.since_on < since_on THEN excluded.since_on ELSE since_on END,
      mass_ug = mass_ug + excluded.mass_ug;
  INSERT INTO balance (account_id, grade_id, mass_ug, since_on)
    VALUES (NEW.from_account_id, NEW.grade_id, -NEW.mass_ug, NEW.occurred_on)
    ON CONFLICT (account_id, grade_id) DO UPDATE SET mass_ug = mass_ug + excluded.mass_ug;
  SELECT RAISE(ABORT, 'an account of bin, load or sold would fall below zero')
    FROM balance JOIN account ON account.id = balance.account_id
    WHERE balance.account_id = NEW.from_account_id AND balance.grade_id = NEW.grade_id AND balance.mass_ug < 0
      AND account.kind IN ('bin', 'load', 'sold');
END;

-- What was taken back was never there: the oldest material is then that of the next transfer in that still stands,
-- also when that one is itself a reversal, such as of a move to another bin.
CREATE TRIGGER reversal_forgets_its_day AFTER INSERT ON transfer WHEN NEW.reverses_id IS NOT NULL
BEGIN
  UPDATE balance SET since_on = coalesce((
      SELECT standing.occurred_on FROM transfer AS standing
      WHERE standing.to_account_id = NEW.from_account_id AND standing.grade_id = NEW.grade_id
        AND standing.occurred_on >= balance.since_on
        AND NOT EXISTS (SELECT 1 FROM transfer AS reversal WHERE reversal.reverses_id = standing.id)
      ORDER BY standing.occurred_on, standing.id LIMIT 1), since_on)
    WHERE account_id = NEW.from_account_id AND grade_id = NEW.grade_id AND since_on = NEW.occurred_on;
END;

CREATE TABLE quote (
  id INTEGER PRIMARY KEY,
  yard_id INTEGER NOT NULL REFERENCES yard (id),
  grade_id INTEGER NOT NULL REFERENCES grade (id),
  price TEXT NOT NULL,
  per TEXT NOT NULL,
  seen_on TEXT NOT NULL,
  seen_where TEXT NOT NULL DEFAULT '',
  recorded_at TEXT NOT NULL
) STRICT;
CREATE INDEX quote_newest ON quote (grade_id, yard_id, seen_on, id);
CREATE INDEX quote_by_yard ON quote (yard_id, seen_on);

CREATE TABLE manifest (
  id INTEGER PRIMARY KEY,
  yard_id INTEGER NOT NULL REFERENCES yard (id),
  number TEXT NOT NULL COLLATE NOCASE,
  status TEXT NOT NULL CHECK (status IN ('draft', 'loaded', 'sold', 'returned')),
  drafted_on TEXT NOT NULL,
  loaded_on TEXT,
  note TEXT NOT NULL DEFAULT '',
  UNIQUE (yard_id, number)
) STRICT;
CREATE INDEX manifest_by_status ON manifest (status);

-- A load. While the manifest is a draft the weights may be empty and mass_ug is null; price, per and expected_minor are
-- set when it is loaded, and the line never changes after that.
CREATE TABLE manifest_line (
  id INTEGER PRIMARY KEY,
  manifest_id INTEGER NOT NULL REFERENCES manifest (id),
  label TEXT NOT NULL,
  bin_id INTEGER NOT NULL REFERENCES bin (id),
  weighed TEXT NOT NULL CHECK (weighed IN ('book', 'load-out')),
  empties_bin INTEGER NOT NULL CHECK (empties_bin IN (0, 1)),
  container_id INTEGER REFERENCES container (id),
  scale_id INTEGER REFERENCES scale (id),
  gross_typed TEXT NOT NULL DEFAULT '',
  tare_typed TEXT NOT NULL DEFAULT '',
  net_typed TEXT NOT NULL DEFAULT '',
  unit TEXT NOT NULL,
  mass_ug INTEGER CHECK (mass_ug > 0),
  price TEXT,
  per TEXT,
  seen_on TEXT,
  expected_minor INTEGER,
  UNIQUE (manifest_id, label)
) STRICT;
CREATE INDEX manifest_line_of_bin ON manifest_line (bin_id);

CREATE TRIGGER manifest_line_frozen_update BEFORE UPDATE ON manifest_line
  WHEN (SELECT status FROM manifest WHERE id = OLD.manifest_id) <> 'draft'
BEGIN SELECT RAISE(ABORT, 'a loaded manifest never changes'); END;
CREATE TRIGGER manifest_line_frozen_delete BEFORE DELETE ON manifest_line
  WHEN (SELECT status FROM manifest WHERE id = OLD.manifest_id) <> 'draft'
BEGIN SELECT RAISE(ABORT, 'a loaded manifest never changes'); END;
CREATE TRIGGER manifest_line_frozen_insert BEFORE INSERT ON manifest_line
  WHEN (SELECT status FROM manifest WHERE id = NEW.manifest_id) <> 'draft'
BEGIN SELECT RAISE(ABORT, 'a loaded manifest never changes'); END;
CREATE TRIGGER manifest_goes_forward BEFORE UPDATE ON manifest
  WHEN OLD.status <> 'draft' AND (NEW.status = 'draft' OR NEW.yard_id <> OLD.yard_id OR NEW.number <> OLD.number
    OR NEW.loaded_on IS NOT OLD.loaded_on)
BEGIN SELECT RAISE(ABORT, 'a loaded manifest never changes'); END;

-- Unsold material that came back to its bin. Taken back by a row in load_return_undone. With undoes_loading it never
-- left: the loading itself was a mistake, and that is not taken back again.
CREATE TABLE load_return (
  id INTEGER PRIMARY KEY,
  manifest_line_id INTEGER NOT NULL REFERENCES manifest_line (id),
  returned_on TEXT NOT NULL,
  recorded_at TEXT NOT NULL,
  reason TEXT NOT NULL DEFAULT '',
  undoes_loading INTEGER NOT NULL DEFAULT 0 CHECK (undoes_loading IN (0, 1))
) STRICT;
CREATE INDEX load_return_of_line ON load_return (manifest_line_id);
CREATE TABLE load_return_undone (
  load_return_id INTEGER PRIMARY KEY REFERENCES load_return (id),
  recorded_at TEXT NOT NULL
) STRICT;

CREATE TABLE ticket (
  id INTEGER PRIMARY KEY,
  yard_id INTEGER NOT NULL REFERENCES yard (id),
  manifest_id INTEGER NOT NULL REFERENCES manifest (id),
  number TEXT NOT NULL COLLATE NOCASE,
  sold_on TEXT NOT NULL,
  note TEXT NOT NULL DEFAULT '',
  recorded_at TEXT NOT NULL,
  replaces_id INTEGER UNIQUE REFERENCES ticket (id),
  replace_reason TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX ticket_by_day ON ticket (sold_on, id);
CREATE INDEX ticket_of_manifest ON ticket (manifest_id);
CREATE INDEX ticket_by_number ON ticket (yard_id, number);

-- The foot of a ticket. Apart from the ticket because a file of lines may be imported before the file of totals.
CREATE TABLE ticket_total (
  ticket_id INTEGER PRIMARY KEY REFERENCES ticket (id),
  charges_minor INTEGER NOT NULL CHECK (charges_minor >= 0),
  tax_minor INTEGER NOT NULL,
  cash_rounding_minor INTEGER NOT NULL,
  total_minor INTEGER NOT NULL,
  paid_by TEXT NOT NULL CHECK (paid_by IN ('cash', 'cheque', 'card', 'transfer', 'other')),
  recorded_at TEXT NOT NULL,
  worked_out TEXT NOT NULL DEFAULT ''
) STRICT;

-- A line as printed: gross, tare, deduction (a weight, or a percent such as 5%), net and price are the yard's digits.
-- Beside it the yard's quote for the grade it was paid as, as it stood on the day the manifest was loaded, and which of
-- the figures the ticket did not print, joined by commas (net,amount): those are worked out anew when it is replaced.
CREATE TABLE ticket_line (
  id INTEGER PRIMARY KEY,
  ticket_id INTEGER NOT NULL REFERENCES ticket (id),
  line_no INTEGER NOT NULL CHECK (line_no > 0),
  description TEXT NOT NULL DEFAULT '',
  grade_id INTEGER NOT NULL REFERENCES grade (id),
  gross TEXT NOT NULL,
  tare TEXT NOT NULL,
  deduction TEXT NOT NULL,
  net TEXT NOT NULL,
  unit TEXT NOT NULL,
  price TEXT NOT NULL,
  per TEXT NOT NULL,
  amount_minor INTEGER NOT NULL,
  quoted_price TEXT,
  quoted_per TEXT,
  worked_out TEXT NOT NULL DEFAULT '',
  UNIQUE (ticket_id, line_no)
) STRICT;

CREATE TABLE ticket_line_load (
  ticket_line_id INTEGER NOT NULL REFERENCES ticket_line (id),
  manifest_line_id INTEGER NOT NULL REFERENCES manifest_line (id),
  PRIMARY KEY (ticket_line_id, manifest_line_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX ticket_line_of_load ON ticket_line_load (manifest_line_id);

-- Derived from manifests and tickets, rebuilt whenever a ticket of the manifest changes, verified by the check command.
-- One row for each group of loads and ticket lines that belong together.
CREATE TABLE reconciliation_group (
  ticket_id INTEGER NOT NULL REFERENCES ticket (id),
  group_no INTEGER NOT NULL,
  unit TEXT NOT NULL,
  is_on_ticket INTEGER NOT NULL CHECK (is_on_ticket IN (0, 1)),
  home_ug INTEGER NOT NULL,
  yard_ug INTEGER NOT NULL,
  paid_ug INTEGER NOT NULL,
  expected_minor INTEGER NOT NULL,
  scale_minor INTEGER NOT NULL,
  deduction_minor INTEGER NOT NULL,
  grade_minor INTEGER NOT NULL,
  price_minor INTEGER NOT NULL,
  rounding_minor INTEGER NOT NULL,
  arithmetic_minor INTEGER NOT NULL,
  paid_minor INTEGER NOT NULL,
  CHECK (expected_minor + scale_minor + deduction_minor + grade_minor + price_minor + rounding_minor + arithmetic_minor
    = paid_minor),
  PRIMARY KEY (ticket_id, group_no)
) STRICT, WITHOUT ROWID;

-- A group's weights and money by grade of the bin. quoted_micro is the quoted value in millionths of a minor unit, and
-- quoted_ug the home weight that had a quote: without it, a load nobody quoted would pull the quoted price down.
-- weighed_ug is the home weight that the yard paid by weight: what it paid by the piece says nothing about shrinkage.
CREATE TABLE reconciliation_share (
  ticket_id INTEGER NOT NULL,
  group_no INTEGER NOT NULL,
  grade_id INTEGER NOT NULL REFERENCES grade (id),
  yard_id INTEGER NOT NULL REFERENCES yard (id),
  sold_on TEXT NOT NULL,
  home_ug INTEGER NOT NULL,
  yard_ug INTEGER NOT NULL,
  paid_ug INTEGER NOT NULL,
  weighed_ug INTEGER NOT NULL,
  quoted_ug INTEGER NOT NULL,
  quoted_micro INTEGER NOT NULL,
  paid_minor INTEGER NOT NULL,
  charges_minor INTEGER NOT NULL,
  PRIMARY KEY (ticket_id, group_no, grade_id),
  FOREIGN KEY (ticket_id, group_no) REFERENCES reconciliation_group (ticket_id, group_no) ON DELETE CASCADE
) STRICT, WITHOUT ROWID;

-- The sums of reconciliation_share by month, grade and yard, so that a report reads months and not sales. `sales` counts
-- those that were paid by weight.
CREATE TABLE sale_month (
  month TEXT NOT NULL,
  grade_id INTEGER NOT NULL REFERENCES grade (id),
  yard_id INTEGER NOT NULL REFERENCES yard (id),
  sales INTEGER NOT NULL,
  home_ug INTEGER NOT NULL,
  yard_ug INTEGER NOT NULL,
  paid_ug INTEGER NOT NULL,
  weighed_ug INTEGER NOT NULL,
  quoted_ug INTEGER NOT NULL,
  quoted_micro INTEGER NOT NULL,
  paid_minor INTEGER NOT NULL,
  charges_minor INTEGER NOT NULL,
  PRIMARY KEY (month, grade_id, yard_id)
) STRICT, WITHOUT ROWID;

CREATE TRIGGER share_adds_to_month AFTER INSERT ON reconciliation_share
BEGIN
  INSERT INTO sale_month (month, grade_id, yard_id, sales, home_ug, yard_ug, paid_ug, weighed_ug, quoted_ug, quoted_micro,
      paid_minor, charges_minor)
    VALUES (substr(NEW.sold_on, 1, 7), NEW.grade_id, NEW.yard_id, NEW.weighed_ug > 0, NEW.home_ug, NEW.yard_ug, NEW.paid_ug,
      NEW.weighed_ug, NEW.quoted_ug, NEW.quoted_micro, NEW.paid_minor, NEW.charges_minor)
    ON CONFLICT (month, grade_id, yard_id) DO UPDATE SET
      sales = sales + excluded.sales, home_ug = home_ug + excluded.home_ug, yard_ug = yard_ug + excluded.yard_ug,
      paid_ug = paid_ug + excluded.paid_ug, weighed_ug = weighed_ug + excluded.weighed_ug,
      quoted_ug = quoted_ug + excluded.quoted_ug,
      quoted_micro = quoted_micro + excluded.quoted_micro,
      paid_minor = paid_minor + excluded.paid_minor, charges_minor = charges_minor + excluded.charges_minor;
END;
CREATE TRIGGER share_leaves_month AFTER DELETE ON reconciliation_share
BEGIN
  UPDATE sale_month SET
      sales = sales - (OLD.weighed_ug > 0), home_ug = home_ug - OLD.home_ug, yard_ug = yard_ug - OLD.yard_ug,
      paid_ug = paid_ug - OLD.paid_ug, weighed_ug = weighed_ug - OLD.weighed_ug,
      quoted_ug = quoted_ug - OLD.quoted_ug,
      quoted_micro = quoted_micro - OLD.quoted_micro,
      paid_minor = paid_minor - OLD.paid_minor, charges_minor = charges_minor - OLD.charges_minor
    WHERE month = substr(OLD.sold_on, 1, 7) AND grade_id = OLD.grade_id AND yard_id = OLD.yard_id;
  DELETE FROM sale_month
    WHERE month = substr(OLD.sold_on, 1, 7) AND grade_id = OLD.grade_id AND yard_id = OLD.yard_id AND home_ug = 0;
END;

-- The key of every accepted form post and where it led, so that a second tap or a retry does nothing twice. The
-- fingerprint tells a second tap from the same form sent again with other figures, after Back.
CREATE TABLE request (
  key TEXT PRIMARY KEY,
  fingerprint TEXT NOT NULL,
  location TEXT NOT NULL,
  recorded_at TEXT NOT NULL
) STRICT, WITHOUT ROWID;

-- The trail: what was done, when, from where.
CREATE TABLE event (
  id INTEGER PRIMARY KEY,
  recorded_at TEXT NOT NULL,
  who TEXT NOT NULL,
  act TEXT NOT NULL,
  document_kind TEXT NOT NULL,
  document_id INTEGER NOT NULL
) STRICT;

-- Append-only tables refuse every change.
CREATE TRIGGER transfer_no_update BEFORE UPDATE ON transfer BEGIN SELECT RAISE(ABORT, 'transfers are append-only'); END;
CREATE TRIGGER transfer_no_delete BEFORE DELETE ON transfer BEGIN SELECT RAISE(ABORT, 'transfers are append-only'); END;
CREATE TRIGGER in_weight_no_update BEFORE UPDATE ON in_weight BEGIN SELECT RAISE(ABORT, 'in-weights are append-only'); END;
CREATE TRIGGER in_weight_no_delete BEFORE DELETE ON in_weight BEGIN SELECT RAISE(ABORT, 'in-weights are append-only'); END;
CREATE TRIGGER recount_no_update BEFORE UPDATE ON recount BEGIN SELECT RAISE(ABORT, 'recounts are append-only'); END;
CREATE TRIGGER recount_no_delete BEFORE DELETE ON recount BEGIN SELECT RAISE(ABORT, 'recounts are append-only'); END;
CREATE TRIGGER bin_transfer_no_update BEFORE UPDATE ON bin_transfer BEGIN SELECT RAISE(ABORT, 'transfers are append-only'); END;
CREATE TRIGGER bin_transfer_no_delete BEFORE DELETE ON bin_transfer BEGIN SELECT RAISE(ABORT, 'transfers are append-only'); END;
CREATE TRIGGER quote_no_update BEFORE UPDATE ON quote BEGIN SELECT RAISE(ABORT, 'quotes are append-only'); END;
CREATE TRIGGER quote_no_delete BEFORE DELETE ON quote BEGIN SELECT RAISE(ABORT, 'quotes are append-only'); END;
CREATE TRIGGER load_return_no_update BEFORE UPDATE ON load_return BEGIN SELECT RAISE(ABORT, 'returns are append-only'); END;
CREATE TRIGGER load_return_no_delete BEFORE DELETE ON load_return BEGIN SELECT RAISE(ABORT, 'returns are append-only'); END;
CREATE TRIGGER load_return_undone_no_update BEFORE UPDATE ON load_return_undone BEGIN SELECT RAISE(ABORT, 'returns are append-only'); END;
CREATE TRIGGER load_return_undone_no_delete BEFORE DELETE ON load_return_undone BEGIN SELECT RAISE(ABORT, 'returns are append-only'); END;
CREATE TRIGGER ticket_no_update BEFORE UPDATE ON ticket BEGIN SELECT RAISE(ABORT, 'a ticket is replaced, never edited'); END;
CREATE TRIGGER ticket_no_delete BEFORE DELETE ON ticket BEGIN SELECT RAISE(ABORT, 'a ticket is replaced, never edited'); END;
CREATE TRIGGER ticket_total_no_update BEFORE UPDATE ON ticket_total BEGIN SELECT RAISE(ABORT, 'a ticket is replaced, never edited'); END;
CREATE TRIGGER ticket_total_no_delete BEFORE DELETE ON ticket_total BEGIN SELECT RAISE(ABORT, 'a ticket is replaced, never edited'); END;
CREATE TRIGGER ticket_line_no_update BEFORE UPDATE ON ticket_line BEGIN SELECT RAISE(ABORT, 'a ticket is replaced, never edited'); END;
CREATE TRIGGER ticket_line_no_delete BEFORE DELETE ON ticket_line BEGIN SELECT RAISE(ABORT, 'a ticket is replaced, never edited'); END;
CREATE TRIGGER ticket_line_load_no_update BEFORE UPDATE ON ticket_line_load BEGIN SELECT RAISE(ABORT, 'a ticket is replaced, never edited'); END;
CREATE TRIGGER ticket_line_load_no_delete BEFORE DELETE ON ticket_line_load BEGIN SELECT RAISE(ABORT, 'a ticket is replaced, never edited'); END;
CREATE TRIGGER event_no_update BEFORE UPDATE ON event BEGIN SELECT RAISE(ABORT, 'the trail is append-only'); END;
CREATE TRIGGER event_no_delete BEFORE DELETE ON event BEGIN SELECT RAISE(ABORT, 'the trail is append-only'); END;

INSERT INTO account (kind) VALUES
  ('outside'), ('sold'), ('deducted'), ('scale_difference'), ('count_difference'), ('waste'), ('parts'), ('loss');
