-- Which item's material is where, and what it brought. All of it is worked out from transfers and tickets: it may be
-- thrown away and worked out anew, and the check does so and compares. See server/layers/.

-- The queue of a bin that something has left, or in which a count found something. Its front is `rest`: what is left of the inflows up to the last one that
-- was drawn on, oldest first, as JSON: [[day, [[item or 0, micrograms], ...]], ...]. Later inflows stand behind it just
-- as they came and are written nowhere, so that a weigh-in writes nothing here.
CREATE TABLE layer_queue (
  account_id INTEGER PRIMARY KEY REFERENCES account (id),
  -- The last transfer that was followed, and the last inflow drawn on, each by its day and id.
  settled_on TEXT NOT NULL DEFAULT '',
  settled_id INTEGER NOT NULL DEFAULT 0,
  drawn_on TEXT NOT NULL DEFAULT '',
  drawn_id INTEGER NOT NULL DEFAULT 0,
  rest TEXT NOT NULL DEFAULT '[]',
  -- What was already taken of counts and returns that come later: more left than had come in by then. As JSON:
  -- [[transfer, micrograms], ...].
  ahead TEXT NOT NULL DEFAULT '[]',
  -- From which day on it has to be worked out anew; null when it is as it should be.
  stale_on TEXT
) STRICT;
CREATE INDEX layer_queue_stale ON layer_queue (stale_on) WHERE stale_on IS NOT NULL;

-- The queue as it was at the end of a day, to begin from when something earlier than its last transfer turns up.
CREATE TABLE layer_stop (
  account_id INTEGER NOT NULL REFERENCES layer_queue (account_id),
  settled_on TEXT NOT NULL,
  settled_id INTEGER NOT NULL,
  drawn_on TEXT NOT NULL,
  drawn_id INTEGER NOT NULL,
  rest TEXT NOT NULL,
  ahead TEXT NOT NULL,
  PRIMARY KEY (account_id, settled_on, settled_id)
) STRICT, WITHOUT ROWID;

-- How much of an item's material a transfer took out of a bin (below zero) or brought into it. In-weights are not here:
-- they name their item themselves.
CREATE TABLE layer_part (
  account_id INTEGER NOT NULL REFERENCES account (id),
  occurred_on TEXT NOT NULL,
  transfer_id INTEGER NOT NULL REFERENCES transfer (id),
  item_id INTEGER NOT NULL REFERENCES item (id),
  grade_id INTEGER NOT NULL REFERENCES grade (id),
  mass_ug INTEGER NOT NULL CHECK (mass_ug <> 0),
  PRIMARY KEY (account_id, occurred_on, transfer_id, item_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX layer_part_of_item ON layer_part (item_id);

-- An item's share of what a ticket paid for a group's grade, after charges.
CREATE TABLE item_share (
  ticket_id INTEGER NOT NULL,
  group_no INTEGER NOT NULL,
  grade_id INTEGER NOT NULL,
  item_id INTEGER NOT NULL REFERENCES item (id),
  mass_ug INTEGER NOT NULL CHECK (mass_ug > 0),
  earned_minor INTEGER NOT NULL,
  PRIMARY KEY (ticket_id, group_no, grade_id, item_id),
  FOREIGN KEY (ticket_id, group_no, grade_id) REFERENCES reconciliation_share (ticket_id, group_no, grade_id)
    ON DELETE CASCADE
) STRICT, WITHOUT ROWID;
CREATE INDEX item_share_of_item ON item_share (item_id);

-- The tickets whose money has to be shared anew before the transaction ends.
CREATE TABLE share_due (ticket_id INTEGER PRIMARY KEY) STRICT;
CREATE TRIGGER share_is_due AFTER INSERT ON reconciliation_share
BEGIN INSERT OR IGNORE INTO share_due (ticket_id) VALUES (NEW.ticket_id); END;

-- What leaves a bin, what a count adds and what comes back is followed; an inflow only where it stands before what was
-- followed already. What is reversed stood where it was posted.
CREATE TRIGGER transfer_leaves_queue AFTER INSERT ON transfer
  WHEN NEW.from_account_id <> 1 AND (SELECT kind FROM account WHERE id = NEW.from_account_id) = 'bin'
BEGIN
  INSERT INTO layer_queue (account_id, stale_on)
    SELECT NEW.from_account_id, NEW.occurred_on
    WHERE NEW.reverses_id IS NULL OR EXISTS (SELECT 1 FROM layer_queue WHERE account_id = NEW.from_account_id
      AND (stale_on IS NOT NULL OR NEW.occurred_on <= settled_on OR NEW.occurred_on <= drawn_on))
    ON CONFLICT (account_id) DO UPDATE SET stale_on = min(coalesce(stale_on, excluded.stale_on), excluded.stale_on);
END;
CREATE TRIGGER transfer_is_found_or_returned AFTER INSERT ON transfer
  WHEN (SELECT kind FROM account WHERE id = NEW.from_account_id) IN ('load', 'count_difference')
    AND (SELECT kind FROM account WHERE id = NEW.to_account_id) = 'bin'
BEGIN
  INSERT INTO layer_queue (account_id, stale_on) VALUES (NEW.to_account_id, NEW.occurred_on)
    ON CONFLICT (account_id) DO UPDATE SET stale_on = min(coalesce(stale_on, excluded.stale_on), excluded.stale_on);
END;
CREATE TRIGGER transfer_joins_queue AFTER INSERT ON transfer
BEGIN
  UPDATE layer_queue SET stale_on = min(coalesce(stale_on, NEW.occurred_on), NEW.occurred_on)
    WHERE account_id = NEW.to_account_id
      AND (NEW.reverses_id IS NOT NULL OR NEW.occurred_on < settled_on OR NEW.occurred_on < drawn_on);
END;

-- Every bin that something left, was found in or came back to is followed when the ledger is opened next.
INSERT INTO layer_queue (account_id, stale_on)
  SELECT account.id, '' FROM account WHERE kind = 'bin'
    AND (EXISTS (SELECT 1 FROM transfer WHERE from_account_id = account.id AND from_account_id <> 1)
      OR EXISTS (SELECT 1 FROM transfer JOIN account AS source ON source.id = transfer.from_account_id
        WHERE to_account_id = account.id AND source.kind IN ('load', 'count_difference')));
INSERT INTO share_due (ticket_id) SELECT DISTINCT ticket_id FROM reconciliation_share;
