import type { Db } from '../server/db/database.ts';

/**
 * Throws unless a ledger is one that could be: every balance is the sum of its transfers, the monthly sums are those
 * of the shares, and every reference leads somewhere. A figure measured on a ledger that cannot be would say nothing.
 */
export function mustBeSound({ sqlite }: Db): void {
  const wrong = {
    balances: `SELECT 1 FROM (
        SELECT to_account_id AS account_id, grade_id, mass_ug FROM transfer
        UNION ALL SELECT from_account_id, grade_id, -mass_ug FROM transfer
        UNION ALL SELECT account_id, grade_id, -mass_ug FROM balance)
      GROUP BY account_id, grade_id HAVING sum(mass_ug) <> 0`,
    'loads that were sold': `SELECT 1 FROM ticket_line_load JOIN account USING (manifest_line_id)
      JOIN balance ON balance.account_id = account.id WHERE mass_ug <> 0`,
    'monthly sums': `SELECT 1 FROM (
        SELECT substr(sold_on, 1, 7) AS month, grade_id, yard_id, home_ug, paid_minor FROM reconciliation_share
        UNION ALL SELECT month, grade_id, yard_id, -home_ug, -paid_minor FROM sale_month)
      GROUP BY month, grade_id, yard_id HAVING sum(home_ug) <> 0 OR sum(paid_minor) <> 0`,
    references: 'SELECT 1 FROM pragma_foreign_key_check',
  };
  for (const [what, sql] of Object.entries(wrong)) {
    const found = sqlite.prepare(sql).all().length;
    if (found > 0) throw new Error(`the ledger of the bench is not sound: ${found} wrong in ${what}`);
  }
}
