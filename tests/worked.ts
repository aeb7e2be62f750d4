import type { Ledger } from '../server/context.ts';
import { draftManifest } from '../server/manifests/acts.ts';
import { loadManifest } from '../server/manifests/loading.ts';
import { recordQuote } from '../server/prices/acts.ts';
import type { PriceUnit } from '../server/prices/compute.ts';
import { day } from '../server/units/day.ts';
import { binId, gradeId, weighIn } from './helper.ts';

const WEIGHED = [
  ['CU2', '61.40'],
  ['WLO', '48.25'],
  ['YB1', '37.80'],
  ['YB2', '22.65'],
  ['FE1', '212.0'],
] as const;

const QUOTES: readonly (readonly [grade: string, price: string, per: PriceUnit])[] = [
  ['No. 2 copper', '3.60', 'lb'],
  ['Light copper', '3.30', 'lb'],
  ['Insulated wire, low recovery', '1.10', 'lb'],
  ['Yellow brass', '2.45', 'lb'],
  ['Shreddable steel', '190', 'net ton'],
];

/** Weighs in, quotes and loads the worked example (tests/published/worked, invented). @returns the manifest's id */
export function loadWorkedManifest(ledger: Ledger, yardId: number): number {
  for (const [code, net] of WEIGHED) weighIn(ledger, code, net);
  for (const [grade, price, per] of QUOTES) {
    const quote = { yardId, gradeId: gradeId(ledger, grade), price, per, seenOn: day('2025-03-01'), seenWhere: '' };
    recordQuote(ledger, quote);
  }
  const binIds = WEIGHED.map(([code]) => binId(ledger, code));
  const manifestId = draftManifest(ledger, { yardId, binIds, note: '', number: 'W1' });
  loadManifest(ledger, manifestId, day('2025-03-08'), false);
  return manifestId;
}
