-- What is known of the scales: checks with a known weight, further scales of a yard; and, beside the monthly sums, the
-- sums of squares and products that an interval needs, so that a report with intervals still reads months, not sales.

-- The day a scale came into use: until its first check, the reminder counts from it. Null where it is not known.
ALTER TABLE scale ADD COLUMN added_on TEXT;

-- A known weight put on a scale, and what the scale showed. When it was adjusted afterwards, what checks found up to
-- then says nothing about weighings from that day on.
CREATE TABLE scale_check (
  id INTEGER PRIMARY KEY,
  scale_id INTEGER NOT NULL REFERENCES scale (id),
  checked_on TEXT NOT NULL,
  weight_typed TEXT NOT NULL,
  reading_typed TEXT NOT NULL,
  unit TEXT NOT NULL,
  weight_ug INTEGER NOT NULL CHECK (weight_ug > 0),
  reading_ug INTEGER NOT NULL CHECK (reading_ug >= 0),
  is_adjusted INTEGER NOT NULL DEFAULT 0 CHECK (is_adjusted IN (0, 1)),
  note TEXT NOT NULL DEFAULT '',
  recorded_at TEXT NOT NULL
) STRICT;
CREATE INDEX scale_check_of_scale ON scale_check (scale_id, checked_on, id);
-- A check that was typed wrong is taken back by a row here, and both stay.
CREATE TABLE scale_check_undone (
  scale_check_id INTEGER PRIMARY KEY REFERENCES scale_check (id),
  recorded_at TEXT NOT NULL
) STRICT;
CREATE TRIGGER scale_check_no_update BEFORE UPDATE ON scale_check BEGIN SELECT RAISE(ABORT, 'scale checks are append-only'); END;
CREATE TRIGGER scale_check_no_delete BEFORE DELETE ON scale_check BEGIN SELECT RAISE(ABORT, 'scale checks are append-only'); END;
CREATE TRIGGER scale_check_undone_no_update BEFORE UPDATE ON scale_check_undone BEGIN SELECT RAISE(ABORT, 'scale checks are append-only'); END;
CREATE TRIGGER scale_check_undone_no_delete BEFORE DELETE ON scale_check_undone BEGIN SELECT RAISE(ABORT, 'scale checks are append-only'); END;

-- A yard's further scale, such as a truck scale, with the grade families that go over it. What is in no list goes over
-- the yard's usual scale, which is described in the yard itself.
CREATE TABLE yard_scale (
  id INTEGER PRIMARY KEY,
  yard_id INTEGER NOT NULL REFERENCES yard (id),
  name TEXT NOT NULL COLLATE NOCASE,
  division TEXT NOT NULL DEFAULT '',
  class TEXT NOT NULL DEFAULT '',
  UNIQUE (yard_id, name)
) STRICT;
CREATE TABLE yard_scale_family (
  yard_id INTEGER NOT NULL REFERENCES yard (id),
  family TEXT NOT NULL,
  yard_scale_id INTEGER NOT NULL REFERENCES yard_scale (id) ON DELETE CASCADE,
  PRIMARY KEY (yard_id, family)
) STRICT, WITHOUT ROWID;

-- The weighings that a load's book weight was made of when it was loaded: every one since its bin was last empty or
-- counted, so that nobody has to find them again in the bin's history. A load-out weight has its own with the load.
CREATE TABLE load_weighing (
  manifest_line_id INTEGER NOT NULL REFERENCES manifest_line (id),
  weighing_no INTEGER NOT NULL,
  scale_id INTEGER REFERENCES scale (id),
  gross_ug INTEGER NOT NULL CHECK (gross_ug > 0),
  sign INTEGER NOT NULL CHECK (sign IN (1, -1)),
  weighed_on TEXT NOT NULL,
  is_estimate INTEGER NOT NULL CHECK (is_estimate IN (0, 1)),
  PRIMARY KEY (manifest_line_id, weighing_no)
) STRICT, WITHOUT ROWID;
CREATE TRIGGER load_weighing_no_update BEFORE UPDATE ON load_weighing BEGIN SELECT RAISE(ABORT, 'a loaded manifest never changes'); END;
CREATE TRIGGER load_weighing_no_delete BEFORE DELETE ON load_weighing BEGIN SELECT RAISE(ABORT, 'a loaded manifest never changes'); END;

-- The newest sales to one yard, to lay its scale and the home scale side by side.
CREATE INDEX ticket_by_yard ON ticket (yard_id, sold_on, id);

-- Sums over the month's sales. Weights in kilograms and money in minor units, as floating-point numbers: they feed
-- intervals and never a weight or an amount. `sold` counts every sale; the money is what was paid less the charges.
-- The sums over weighed, paid and yard weights are over what was paid by weight only.
ALTER TABLE sale_month ADD COLUMN sold INTEGER NOT NULL DEFAULT 0;
ALTER TABLE sale_month ADD COLUMN home_squares REAL NOT NULL DEFAULT 0;
ALTER TABLE sale_month ADD COLUMN home_by_money REAL NOT NULL DEFAULT 0;
ALTER TABLE sale_month ADD COLUMN money_squares REAL NOT NULL DEFAULT 0;
ALTER TABLE sale_month ADD COLUMN weighed_squares REAL NOT NULL DEFAULT 0;
ALTER TABLE sale_month ADD COLUMN weighed_by_paid REAL NOT NULL DEFAULT 0;
ALTER TABLE sale_month ADD COLUMN paid_squares REAL NOT NULL DEFAULT 0;

UPDATE sale_month SET sold = sums.sold, home_squares = sums.home_squares, home_by_money = sums.home_by_money,
    money_squares = sums.money_squares, weighed_squares = sums.weighed_squares, weighed_by_paid = sums.weighed_by_paid,
    paid_squares = sums.paid_squares
  FROM (
    SELECT substr(sold_on, 1, 7) AS month, grade_id, yard_id, count(*) AS sold,
        sum((home_ug / 1e9) * (home_ug / 1e9)) AS home_squares,
        sum((home_ug / 1e9) * (paid_minor - charges_minor)) AS home_by_money,
        sum(1.0 * (paid_minor - charges_minor) * (paid_minor - charges_minor)) AS money_squares,
        sum((weighed_ug / 1e9) * (weighed_ug / 1e9)) AS weighed_squares,
        sum((weighed_ug / 1e9) * (paid_ug / 1e9)) AS weighed_by_paid,
        sum((weighed_ug > 0) * (paid_ug / 1e9) * (paid_ug / 1e9)) AS paid_squares
      FROM reconciliation_share GROUP BY substr(sold_on, 1, 7), grade_id, yard_id) AS sums
  WHERE sums.month = sale_month.month AND sums.grade_id = sale_month.grade_id AND sums.yard_id = sale_month.yard_id;

DROP TRIGGER share_adds_to_month;
CREATE TRIGGER share_adds_to_month AFTER INSERT ON reconciliation_share
BEGIN
  INSERT INTO sale_month (month, grade_id, yard_id, sales, home_ug, yard_ug, paid_ug, weighed_ug, quoted_ug, quoted_micro,
      paid_minor, charges_minor, sold, home_squares, home_by_money, money_squares, weighed_squares, weighed_by_paid,
      paid_squares)
    VALUES (substr(NEW.sold_on, 1, 7), NEW.grade_id, NEW.yard_id, NEW.weighed_ug > 0, NEW.home_ug, NEW.yard_ug, NEW.paid_ug,
      NEW.weighed_ug, NEW.quoted_ug, NEW.quoted_micro, NEW.paid_minor, NEW.charges_minor, 1,
      (NEW.home_ug / 1e9) * (NEW.home_ug / 1e9),
      (NEW.home_ug / 1e9) * (NEW.paid_minor - NEW.charges_minor),
      1.0 * (NEW.paid_minor - NEW.charges_minor) * (NEW.paid_minor - NEW.charges_minor),
      (NEW.weighed_ug / 1e9) * (NEW.weighed_ug / 1e9),
      (NEW.weighed_ug / 1e9) * (NEW.paid_ug / 1e9),
      (NEW.weighed_ug > 0) * (NEW.paid_ug / 1e9) * (NEW.paid_ug / 1e9))
    ON CONFLICT (month, grade_id, yard_id) DO UPDATE SET
      sales = sales + excluded.sales, home_ug = home_ug + excluded.home_ug, yard_ug = yard_ug + excluded.yard_ug,
      paid_ug = paid_ug + excluded.paid_ug, weighed_ug = weighed_ug + excluded.weighed_ug,
      quoted_ug = quoted_ug + excluded.quoted_ug,
      quoted_micro = quoted_micro + excluded.quoted_micro,
      paid_minor = paid_minor + excluded.paid_minor, charges_minor = charges_minor + excluded.charges_minor,
      sold = sold + excluded.sold, home_squares = home_squares + excluded.home_squares,
      home_by_money = home_by_money + excluded.home_by_money, money_squares = money_squares + excluded.money_squares,
      weighed_squares = weighed_squares + excluded.weighed_squares,
      weighed_by_paid = weighed_by_paid + excluded.weighed_by_paid, paid_squares = paid_squares + excluded.paid_squares;
END;

DROP TRIGGER share_leaves_month;
CREATE TRIGGER share_leaves_month AFTER DELETE ON reconciliation_share
BEGIN
  UPDATE sale_month SET
      sales = sales - (OLD.weighed_ug > 0), home_ug = home_ug - OLD.home_ug, yard_ug = yard_ug - OLD.yard_ug,
      paid_ug = paid_ug - OLD.paid_ug, weighed_ug = weighed_ug - OLD.weighed_ug,
      quoted_ug = quoted_ug - OLD.quoted_ug,
      quoted_micro = quoted_micro - OLD.quoted_micro,
      paid_minor = paid_minor - OLD.paid_minor, charges_minor = charges_minor - OLD.charges_minor,
      sold = sold - 1,
      home_squares = home_squares - (OLD.home_ug / 1e9) * (OLD.home_ug / 1e9),
      home_by_money = home_by_money - (OLD.home_ug / 1e9) * (OLD.paid_minor - OLD.charges_minor),
      money_squares =
        money_squares - 1.0 * (OLD.paid_minor - OLD.charges_minor) * (OLD.paid_minor - OLD.charges_minor),
      weighed_squares = weighed_squares - (OLD.weighed_ug / 1e9) * (OLD.weighed_ug / 1e9),
      weighed_by_paid = weighed_by_paid - (OLD.weighed_ug / 1e9) * (OLD.paid_ug / 1e9),
      paid_squares = paid_squares - (OLD.weighed_ug > 0) * (OLD.paid_ug / 1e9) * (OLD.paid_ug / 1e9)
    WHERE month = substr(OLD.sold_on, 1, 7) AND grade_id = OLD.grade_id AND yard_id = OLD.yard_id;
  DELETE FROM sale_month
    WHERE month = substr(OLD.sold_on, 1, 7) AND grade_id = OLD.grade_id AND yard_id = OLD.yard_id AND home_ug = 0;
END;
