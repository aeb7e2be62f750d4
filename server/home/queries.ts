import { sql } from 'kysely';
import { build, type Db, writtenOnce } from '../db/database.ts';

/** A load that went to a yard and is on no ticket: to be found on the paper, or brought back. */
export interface OpenLoad {
  manifest_id: number;
  manifest_number: string;
  yard_name: string;
  label: string;
  bin_code: string;
}

/**
 * Loads of sold manifests that no ticket pays for and that are not back in their bin. The plus before the status keeps
 * SQLite from beginning with every sold manifest there ever was; it begins with the loads that are out now (load_held).
 */
export const loadsOnNoTicket = (db: Db): OpenLoad[] => db.many(soldAndHeld());

const soldAndHeld = writtenOnce(() =>
  build
    .selectFrom('balance')
    .innerJoin('account', 'account.id', 'balance.account_id')
    .innerJoin('manifest_line', 'manifest_line.id', 'account.manifest_line_id')
    .innerJoin('manifest', 'manifest.id', 'manifest_line.manifest_id')
    .innerJoin('yard', 'yard.id', 'manifest.yard_id')
    .innerJoin('bin', 'bin.id', 'manifest_line.bin_id')
    .select(['manifest.id as manifest_id', 'manifest.number as manifest_number', 'yard.name as yard_name'])
    .select(['manifest_line.label', 'bin.code as bin_code'])
    .where(sql`+manifest.status`, '=', sql.lit('sold'))
    .where('balance.is_load', '=', sql.lit(1) as never)
    .where('balance.mass_ug', '>', sql.lit(0) as never)
    .orderBy('manifest_line.id')
    .limit(sql.lit(20)),
);

/** Enough that a few entries under a wrong clock do not pass for the newest, and few enough to forget one day. */
const RECENT_ENTRIES = 50;

/** The latest moment at which one of the last entries was made, as a UTC instant; null in a ledger without any. */
export const newestEntryAt = (db: Db): string | null => db.one(newestOfRecent()).at;

const newestOfRecent = writtenOnce(() =>
  build
    .selectFrom(
      build.selectFrom('event').select('recorded_at').orderBy('id', 'desc').limit(sql.lit(RECENT_ENTRIES)).as('recent'),
    )
    .select((eb) => eb.fn.max('recent.recorded_at').as('at')),
);
