-- A weigh-in waits for every page that it touches. Two indexes were touched by each and looked at for few rows only.

-- Which loads are still out reads loads only, so what bins hold need not be in that index.
ALTER TABLE balance ADD COLUMN is_load INTEGER NOT NULL DEFAULT 0 CHECK (is_load IN (0, 1));
UPDATE balance SET is_load = 1 WHERE account_id IN (SELECT id FROM account WHERE kind = 'load');
DROP INDEX balance_held;
CREATE INDEX load_held ON balance (account_id) WHERE is_load = 1 AND mass_ug > 0;

DROP TRIGGER transfer_moves_balances;
CREATE TRIGGER transfer_moves_balances AFTER INSERT ON transfer
BEGIN
  INSERT INTO balance (account_id, grade_id, mass_ug, since_on, is_load)
    VALUES (NEW.to_account_id, NEW.grade_id, NEW.mass_ug, NEW.occurred_on,
      (SELECT kind = 'load' FROM account WHERE id = NEW.to_account_id))
    ON CONFLICT (account_id, grade_id) DO UPDATE SET
      since_on = CASE WHEN mass_ug = 0 OR excluded.since_on < since_on THEN excluded.since_on ELSE since_on END,
      mass_ug = mass_ug + excluded.mass_ug;
  INSERT INTO balance (account_id, grade_id, mass_ug, since_on, is_load)
    VALUES (NEW.from_account_id, NEW.grade_id, -NEW.mass_ug, NEW.occurred_on,
      (SELECT kind = 'load' FROM account WHERE id = NEW.from_account_id))
    ON CONFLICT (account_id, grade_id) DO UPDATE SET mass_ug = mass_ug + excluded.mass_ug;
  SELECT RAISE(ABORT, 'an account of bin, load or sold would fall below zero')
    FROM balance JOIN account ON account.id = balance.account_id
    WHERE balance.account_id = NEW.from_account_id AND balance.grade_id = NEW.grade_id AND balance.mass_ug < 0
      AND account.kind IN ('bin', 'load', 'sold');
END;

-- Nobody reads what came from outside by that account, the first one there is: it is every weigh-in there ever was.
DROP INDEX transfer_out;
CREATE INDEX transfer_out ON transfer (from_account_id, occurred_on, id) WHERE from_account_id <> 1;
