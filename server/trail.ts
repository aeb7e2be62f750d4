import type { Ledger } from './context.ts';
import { build, type Db, writtenOnce } from './db/database.ts';

/** Writes one line of the trail: who did what, when, to which document. */
export function noteEvent({ db, clock, who }: Ledger, act: string, documentKind: string, documentId: number): void {
  db.insert('event', { recorded_at: clock.now(), who, act, document_kind: documentKind, document_id: documentId });
}

const requestByKey = writtenOnce(() => build.selectFrom('request').select('location').where('key', '=', ''));

/** Where an accepted post with this key led, or undefined when it is new. */
export const locationOfRequest = (db: Db, key: string): string | undefined => db.maybe(requestByKey(key))?.location;

/**
 * Runs an act once for each request key, together with the note that it ran: a second tap or a retry is led to where
 * the first one led, and nothing is posted twice.
 * @param act does its work and returns the address to show next
 */
export function once({ db, clock }: Ledger, key: string, act: () => string): string {
  return db.transaction(() => {
    const earlier = locationOfRequest(db, key);
    if (earlier !== undefined) return earlier;
    const location = act();
    db.insert('request', { key, location, recorded_at: clock.now() });
    return location;
  });
}
