import { type Selectable, type SqlBool, sql } from 'kysely';
import type { Ledger } from '../context.ts';
import { build, type Db, writtenOnce } from '../db/database.ts';
import type { Day } from '../units/day.ts';
import { type MassUg, massUg } from '../units/mass.ts';
import type { DocumentKind, TransferTable } from './table.ts';

/** A transfer as it stands in the ledger. */
export type Transfer = Selectable<TransferTable>;

/** A transfer to be posted. Accounts by id, the mass in micrograms. */
export interface Posting {
  from: number;
  to: number;
  gradeId: number;
  massUg: MassUg;
  occurredOn: Day;
  reason: string;
  document: { kind: DocumentKind; id: number };
}

/** What has to be said of a transfer for the index by the account that it came from: what came from outside is not in it. */
export const isNotFromOutside = sql<boolean>`from_account_id <> 1`;

/** Appends one transfer; the balances follow by trigger. A posting of nothing is left out. */
export function postTransfer({ db, clock }: Ledger, posting: Posting): void {
  if (posting.massUg === 0) return;
  db.insert('transfer', {
    from_account_id: posting.from,
    to_account_id: posting.to,
    grade_id: posting.gradeId,
    mass_ug: posting.massUg,
    occurred_on: posting.occurredOn,
    recorded_at: clock.now(),
    reason: posting.reason,
    document_kind: posting.document.kind,
    document_id: posting.document.id,
  });
}

/** Posts a signed mass: what is negative goes the other way. */
export function postSigned(ledger: Ledger, posting: Posting): void {
  const { from, to, massUg: signedUg } = posting;
  postTransfer(ledger, signedUg >= 0 ? posting : { ...posting, from: to, to: from, massUg: massUg(-signedUg) });
}

const transferColumns = [
  'id',
  'from_account_id',
  'to_account_id',
  'grade_id',
  'mass_ug',
  'occurred_on',
  'recorded_at',
  'reason',
  'document_kind',
  'document_id',
  'reverses_id',
] as const;

const standingOfDocument = writtenOnce(() =>
  build
    .selectFrom('transfer')
    .select(transferColumns)
    .where('document_kind', '=', 'in_weight')
    .where('document_id', '=', 0)
    // The plus keeps SQLite from the index of reversals, whose empty entries are nearly the whole history.
    .where(sql<number | null>`+reverses_id`, 'is', null)
    .where(sql<SqlBool>`not exists (select 1 from transfer as reversal where reversal.reverses_id = transfer.id)`)
    .orderBy('id'),
);

/** The transfers of a document that still stand: not reversals, and not reversed. */
export const standingTransfers = (db: Db, kind: DocumentKind, documentId: number): Transfer[] =>
  db.many(standingOfDocument(kind, documentId));

/**
 * Reverses transfers that stand, newest first. Both the transfer and its reversal stay in the ledger. A reversal counts
 * for the day of what it reverses: to correct a slip must not change what other days show.
 */
export function reverseGiven({ db, clock }: Ledger, standing: readonly Transfer[], reason: string): void {
  for (const transfer of [...standing].reverse()) {
    db.insert('transfer', {
      from_account_id: transfer.to_account_id,
      to_account_id: transfer.from_account_id,
      grade_id: transfer.grade_id,
      mass_ug: transfer.mass_ug,
      occurred_on: transfer.occurred_on,
      recorded_at: clock.now(),
      reason,
      document_kind: transfer.document_kind,
      document_id: transfer.document_id,
      reverses_id: transfer.id,
    });
  }
}

/** Reverses every standing transfer of a document. */
export const reverseTransfers = (ledger: Ledger, kind: DocumentKind, documentId: number, reason: string): void =>
  reverseGiven(ledger, standingTransfers(ledger.db, kind, documentId), reason);
