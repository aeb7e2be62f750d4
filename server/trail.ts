import type { Ledger } from './context.ts';
import { build, writtenOnce } from './db/database.ts';
import { Refusal } from './refusal.ts';

/** Writes one line of the trail: who did what, when, to which document. */
export function noteEvent({ db, clock, who }: Ledger, act: string, documentKind: string, documentId: number): void {
  db.insert('event', { recorded_at: clock.now(), who, act, document_kind: documentKind, document_id: documentId });
}

const requestByKey = writtenOnce(() =>
  build.selectFrom('request').select(['location', 'fingerprint']).where('key', '=', ''),
);

/**
 * Runs an act once for each request key, together with the note that it ran: a second tap or a retry is led to where
 * the first one led, and nothing is posted twice. The same key with another fingerprint is another entry, typed into
 * a form that Back brought up again: it is refused, so that it can be shown and sent anew, and nothing typed is lost.
 * @param act does its work and returns the address to show next
 * @param fingerprint of everything that was sent
 */
export function once({ db, clock }: Ledger, key: string, act: () => string, fingerprint = ''): string {
  return db.transaction(() => {
    const earlier = db.maybe(requestByKey(key));
    if (earlier?.fingerprint === fingerprint) return earlier.location;
    if (earlier !== undefined) {
      const say =
        'This form was sent before with other figures, and that was saved. If this is one more, send it again.';
      throw new Refusal('form_used', '', say);
    }
    const location = act();
    db.insert('request', { key, fingerprint, location, recorded_at: clock.now() });
    return location;
  });
}
