import type { Ledger } from './context.ts';
import { build, type Db, writtenOnce } from './db/database.ts';
import type { TrailChange } from './history/change.ts';
import { Refusal } from './refusal.ts';

/** What a line of the trail says beside the act itself. */
export interface TrailMore {
  /** What exactly, in words: "division 0.05 → 0.1". */
  detail?: string;
  /** What was before and after, to put it back. */
  change?: TrailChange | null;
}

/** Who did the last act on a document; undefined when the trail has none. */
export const lastActor = (db: Db, documentKind: string, documentId: number): string | undefined =>
  db.maybe(
    build
      .selectFrom('event')
      .select('who')
      .where('document_kind', '=', documentKind)
      .where('document_id', '=', documentId)
      .orderBy('id', 'desc')
      .limit(1),
  )?.who;

/**
 * Writes one line of the trail: who did what, when, to which document. An act that is a part of another one writes none.
 * @returns the line's id, 0 when none was written
 */
export function noteEvent(
  { db, clock, who, isPart }: Ledger,
  act: string,
  documentKind: string,
  documentId: number,
  { detail, change }: TrailMore = {},
): number {
  if (isPart) return 0;
  return db.insert('event', {
    recorded_at: clock.now(),
    who,
    act,
    document_kind: documentKind,
    document_id: documentId,
    ...(detail === undefined ? {} : { detail }),
    ...(change == null ? {} : { change: JSON.stringify(change) }),
  });
}

/** The same ledger for the parts of an act that writes one line for all of them. */
export const asPart = (ledger: Ledger): Ledger => ({ ...ledger, isPart: true });

const requestByKey = writtenOnce(() =>
  build.selectFrom('request').select(['location', 'fingerprint', 'recorded_at']).where('key', '=', ''),
);

/**
 * A second tap or a retry comes within this time. Later, the same form was brought up by Back and filled in again. Both
 * ways, because a clock that was set back makes what was saved an hour ago lie in the future.
 */
const RETRY_MS = 30_000;

/**
 * Runs an act once for each request key, together with the note that it ran: a second tap or a retry is led to where
 * the first one led, and nothing is posted twice. What comes later or says something else may be another entry, typed
 * into a form that Back brought up: two buckets can weigh the same. It is refused once with a sentence, so that the
 * person sees what was saved and can send it again under a new key; nothing typed is lost, nothing doubled by itself.
 * @param act does its work and returns the address to show next
 * @param fingerprint of everything that was sent
 */
export function once({ db, clock }: Ledger, key: string, act: () => string, fingerprint = ''): string {
  return db.transaction(() => {
    const now = clock.now();
    const earlier = db.maybe(requestByKey(key));
    if (earlier === undefined) {
      const location = act();
      db.insert('request', { key, fingerprint, location, recorded_at: now });
      return location;
    }
    const isSame = earlier.fingerprint === fingerprint;
    const awayMs = Math.abs(Date.parse(now) - Date.parse(earlier.recorded_at));
    if (isSame && awayMs <= RETRY_MS) return earlier.location;
    const before = isSame ? 'exactly like this' : 'with other figures';
    const say = `This form was sent before ${before}, and that was saved. If this is one more, send it again.`;
    throw new Refusal('form_used', '', say);
  });
}
