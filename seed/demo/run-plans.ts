import type { YardName } from './household.ts';

/** One manifest and what the yard made of it. Where nothing is said, all went as quoted. Weights in pounds. */
export interface RunPlan {
  on: string;
  yard: YardName;
  bins: readonly string[];
  /** Only so much of a bin is taken along. */
  part?: { bin: string; lb: string };
  /** Buckets that the yard weighs as one line. */
  joined?: readonly string[];
  /** So much of a bin is paid as another grade. */
  downgrade?: { bin: string; lb: string; as: string };
  /** A weight or a percent taken off a bin's line, and why. */
  deducted?: readonly { bin: string; by: string; why: string }[];
  /** The price is so much above (or, with a minus, below) the quote. */
  offQuote?: readonly { bin: string; by: string }[];
  /** The amount printed for a bin is so many cents off net times price. */
  wrongAmount?: { bin: string; cents: number };
  /** The total is so many cents off what the ticket's own figures give. */
  wrongTotal?: number;
  chargesCents?: number;
  /** A line for something that was on no manifest. */
  unlisted?: { grade: string; lb: string; price: string };
  /** Loads that the yard put on a ticket of their own. */
  apart?: readonly string[];
  /** A load that the ticket does not mention, and the day it was brought back; null while nobody knows where it is. */
  forgotten?: { bin: string; broughtBackOn: string | null };
  /** Typed with a slip first; the right ticket took its place three days later. */
  retyped?: { bin: string };
  note?: string;
}

/** Every run that was made, both yards on some days. */
export const runPlans: readonly RunPlan[] = [
  { on: '2025-01-25', yard: 'North', bins: ['WLO', 'FE1', 'SS1'] },
  {
    on: '2025-02-15',
    yard: 'South',
    bins: ['MOT', 'TAP', 'YB1'],
    deducted: [{ bin: 'MOT', by: '3.5', why: 'pulleys and mounts left on' }],
  },
  {
    on: '2025-03-08',
    yard: 'North',
    bins: ['CU2', 'YB1', 'YB2', 'FE1'],
    downgrade: { bin: 'CU2', lb: '6.5', as: 'Light copper' },
    joined: ['YB1', 'YB2'],
  },
  {
    on: '2025-03-29',
    yard: 'South',
    bins: ['WLO', 'XLT', 'SMO', 'ARC'],
    deducted: [{ bin: 'XLT', by: '5%', why: 'moisture' }],
    chargesCents: 500,
  },
  {
    on: '2025-04-19',
    yard: 'North',
    bins: ['MOT', 'ARC', 'TAP', 'SS1', 'CU1'],
    deducted: [{ bin: 'MOT', by: '2.0', why: 'pump left on' }],
    forgotten: { bin: 'TAP', broughtBackOn: '2025-04-21' },
  },
  {
    on: '2025-05-10',
    yard: 'South',
    bins: ['TAP', 'WHI', 'SEA'],
    wrongAmount: { bin: 'WHI', cents: -450 },
    note: 'Rang them about the thick cable: they will look into it.',
  },
  {
    on: '2025-05-31',
    yard: 'North',
    bins: ['CU2', 'WLO', 'PCB', 'FE1'],
    offQuote: [{ bin: 'PCB', by: '-0.35' }],
    apart: ['FE1'],
  },
  { on: '2025-06-21', yard: 'South', bins: ['SS1', 'ALC', 'SMO'], offQuote: [{ bin: 'ALC', by: '0.06' }] },
  { on: '2025-07-12', yard: 'North', bins: ['YB1', 'YB2', 'CU1', 'FE1'], wrongTotal: -1000 },
  {
    on: '2025-08-02',
    yard: 'South',
    bins: ['SEA', 'MOT', 'ARC'],
    chargesCents: 500,
    deducted: [{ bin: 'SEA', by: '4.0', why: 'brackets left on' }],
  },
  {
    on: '2025-08-30',
    yard: 'North',
    bins: ['WLO', 'WHI', 'CU2', 'TAP'],
    deducted: [{ bin: 'WLO', by: '1.5', why: 'rained on, moisture' }],
  },
  { on: '2025-09-20', yard: 'South', bins: ['SS1', 'SMO', 'XLT', 'ALC'], retyped: { bin: 'SMO' } },
  {
    on: '2025-10-11',
    yard: 'North',
    bins: ['CU1', 'YB1', 'YB2', 'FE1'],
    joined: ['YB1', 'YB2'],
    unlisted: { grade: 'Old sheet aluminium', lb: '12.5', price: '0.55' },
  },
  { on: '2025-10-11', yard: 'South', bins: ['MOT', 'ARC'] },
  { on: '2025-11-08', yard: 'South', bins: ['CU2', 'WLO', 'WHI'], offQuote: [{ bin: 'WLO', by: '-0.05' }] },
  {
    on: '2025-11-29',
    yard: 'North',
    bins: ['TAP', 'SS1', 'PCB', 'FE1'],
    part: { bin: 'FE1', lb: '150' },
    chargesCents: 250,
  },
  {
    on: '2025-12-20',
    yard: 'South',
    bins: ['SMO', 'SEA', 'MOT', 'ARC'],
    downgrade: { bin: 'MOT', lb: '18.0', as: 'Motors, aluminium wound' },
  },
  { on: '2026-01-17', yard: 'South', bins: ['CU1', 'YB1', 'YB2', 'WLO'] },
  {
    on: '2026-01-31',
    yard: 'North',
    bins: ['CU2', 'WHI', 'FE1'],
    deducted: [{ bin: 'FE1', by: '5%', why: 'plastic left on' }],
    wrongAmount: { bin: 'CU2', cents: 200 },
    note: 'Two dollars too much on the copper; told them.',
  },
  {
    on: '2026-02-21',
    yard: 'South',
    bins: ['SS1', 'TAP', 'ALC', 'PCB'],
    forgotten: { bin: 'PCB', broughtBackOn: null },
  },
  { on: '2026-03-07', yard: 'North', bins: ['SMO', 'SEA', 'CU1'], deducted: [{ bin: 'SMO', by: '1.0', why: 'cords' }] },
];
