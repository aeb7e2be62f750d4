import type { FastifyInstance } from 'fastify';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { benchAdjustedOn, southDriftsFrom } from '../../seed/demo/troubles.ts';
import { demoToday, fillDemo } from '../../seed/demo.ts';
import { buildApp } from '../../server/app.ts';
import { fixedClock } from '../../server/clock.ts';
import { type Ledger, openLedger } from '../../server/context.ts';
import { openDb } from '../../server/db/open.ts';
import { findExport, writeExport } from '../../server/files/exports/names.ts';
import { draftManifest } from '../../server/manifests/acts.ts';
import { loadManifest } from '../../server/manifests/loading.ts';
import { loadsOf } from '../../server/manifests/queries.ts';
import { comparisonsAtYard, readKnownScales } from '../../server/scales/comparisons.ts';
import { homeStretches, watchScales } from '../../server/scales/whose.ts';
import { findYard, listYards, updateYard } from '../../server/setup/queries.ts';
import { recordTicket } from '../../server/tickets/acts.ts';
import { day, daysBetween } from '../../server/units/day.ts';
import { binId, get, newApp, newBenchScale, newLedger, newYard, setUpWorkedExample, weighIn } from '../helper.ts';
import { type Sale, ticketOf, weighOut } from '../sales.ts';

/** What a page says, without its tags. */
const textOf = (body: string): string =>
  body
    .replace(/<(title|desc|style)[^>]*>.*?<\/\1>/gs, ' ')
    .replace(/<[^>]+>/g, ' ')
    .replaceAll('&#39;', "'")
    .replace(/\s+/g, ' ');

const NO_NUMBER = /NaN|Infinity|undefined|\bnull\b/;

describe('on the demo, whose troubles are known', () => {
  let app: FastifyInstance;
  let ledger: Ledger;

  beforeAll(async () => {
    const db = openDb(':memory:');
    fillDemo(db);
    const clock = fixedClock(demoToday);
    ledger = openLedger(db, clock);
    app = await buildApp({ db, clock, isDemo: true });
  });
  afterAll(() => app.close());

  const comparisons = () =>
    listYards(ledger.db)
      .flatMap(({ id }) =>
        comparisonsAtYard(ledger, readKnownScales(ledger.db), {
          yardId: id,
          from: day('2025-01-01'),
          until: day('2026-04-01'),
        }),
      )
      .sort((a, b) => (a.soldOn < b.soldOn ? -1 : 1));

  test('the bench scale is found to have read about 1.2 % too much until it was adjusted', () => {
    const bench = homeStretches(comparisons()).filter(({ scale }) => scale?.name === 'Bench scale');
    const before = bench.find(({ until }) => until === benchAdjustedOn);
    if (before?.finding.kind !== 'home') throw new Error(`found ${before?.finding.kind}`);
    expect(before.finding.direction).toBe('less');
    // The truth that was put in is 1 / 1.012 = 0.98814.
    expect(Math.abs(before.finding.ratio - 1 / 1.012)).toBeLessThan(0.002);
  });

  test('Demo Yard South is found to drift low, within a sale of when it began, and no other scale is', () => {
    const watched = watchScales(comparisons());
    const lasting = watched.flatMap(({ scale, shifts }) =>
      shifts.filter(({ until }) => until === null).map((shift) => ({ name: scale.name, shift })),
    );
    expect(lasting.map(({ name, shift }) => [name, shift.direction])).toEqual([['Demo Yard South', 'less']]);
    const began = lasting[0]?.shift.began.soldOn ?? demoToday;
    // Its last sale before the drift was on 11 October, its first within it on 8 November.
    expect(['2025-10-11', '2025-11-08']).toContain(began);
    expect(Math.abs(daysBetween(began, southDriftsFrom))).toBeLessThan(22);
    expect(Math.abs((lasting[0]?.shift.ratio ?? 1) - 0.99)).toBeLessThan(0.002);
  });

  test('the honest scales are not named: the floor scale and both truck scales', () => {
    const found = comparisons();
    expect(homeStretches(found).find(({ scale }) => scale?.name === 'Floor scale')?.finding.kind).toBe('nothing');
    const trucks = watchScales(found).filter(({ scale }) => scale.name.endsWith('Truck scale'));
    expect(trucks.length).toBeGreaterThan(0);
    expect(trucks.flatMap(({ shifts }) => shifts)).toEqual([]);
  });

  test('the page says so in words, before the pictures', async () => {
    const { statusCode, body } = await get(app, '/reports/scales');
    const text = textOf(body);
    expect(statusCode).toBe(200);
    expect(text).toContain('Demo Yard South has shown 1.0 % less than your scales since about 11 Oct 2025');
    expect(text).toContain('Until it was adjusted on 23 Aug 2025, your Bench scale likely read 1.2 % too much');
    expect(text).toContain('Your check of 23 Aug 2025 found it 0.25 lb too high at 20.00 lb.');
    expect(text).not.toMatch(NO_NUMBER);
  });

  test('a page before the adjustment blames nobody but one’s own scale', async () => {
    const text = textOf((await get(app, '/reports/scales?to=2025-08')).body);
    expect(text).toContain('Your own scale is the likelier cause: another yard showed the same in that time');
    expect(text).not.toContain('No other yard has');
  });

  test('to follow one yard only does not make it the culprit', async () => {
    const text = textOf((await get(app, '/reports/scales?yard=1')).body);
    expect(text).toContain('Your own scale is the likelier cause: another yard showed the same in that time');
    expect(text).not.toContain('Nothing was sold elsewhere');
  });

  test('every reconciled group has a verdict, in the file and on the pages', async () => {
    const file = findExport('reconciliation');
    if (file === undefined) throw new Error('no such export');
    const verdicts = writeExport(ledger, file, {})
      .trim()
      .split('\r\n')
      .slice(1)
      .map((row) => row.split(',').at(-1));
    expect(new Set(verdicts)).toEqual(new Set(['explained', 'unexplained', '']));
    expect(verdicts.filter((verdict) => verdict === 'unexplained').length).toBeGreaterThan(2);
    // The one group with nothing to compare is the load that is on no ticket.
    expect(verdicts.filter((verdict) => verdict === '').length).toBe(1);
    const ticket = textOf((await get(app, '/tickets/2')).body);
    expect(ticket).toContain('the two scales can explain this');
  });

  test('one ticket, every number by hand', async () => {
    // Ticket 10678 of 19 April 2025: load D, 79.05 lb at home and 78.00 lb at the yard. Bench scale: steps of 0.05, ± 0.1
    // stated and 0.25 found at the check of 23 August; yard: class III, steps of 0.5. Twice
    // √(2 · 0.05²/12 + 0.25²/3 + 2 · 0.5²/12 + 0.5²/3) = 2 · √(0.000417 + 0.020833 + 0.041667 + 0.083333) = 0.765.
    const id = ledger.db.sqlite.prepare("select id from ticket where number = '10678'").pluck().get();
    const text = textOf((await get(app, `/tickets/${id}`)).body);
    expect(text).toContain(
      'D 79.05 78.00 −1.05 ± 0.76 Bench scale; Demo Yard North more than the two scales can explain : ask for a second weighing, or check your scale',
    );
    expect(text).toContain('On D that is more than the two scales can explain.');
    expect(text).toContain(
      'Your Bench scale was 0.25 lb too high at 20.00 lb in the check of 23 Aug 2025, so what it weighed here was likely too much.',
    );
  });

  test('every load of the sheet has its query weight, or the reason why not', async () => {
    for (const { id } of ledger.db.sqlite.prepare("select id from manifest where status <> 'draft'").all() as {
      id: number;
    }[]) {
      const text = textOf((await get(app, `/manifests/${id}/sheet`)).body);
      expect(text).toContain('Query weight: if the yard’s scale shows this or less');
      expect(text).not.toMatch(NO_NUMBER);
    }
  });
});

describe('where something is missing', () => {
  let ledger: Ledger;
  let app: FastifyInstance;
  let yardId: number;
  let scaleId: number;

  beforeEach(async () => {
    ledger = newLedger();
    ({ yardId } = setUpWorkedExample(ledger));
    scaleId = newBenchScale(ledger);
    app = await newApp(ledger.db);
  });
  afterEach(() => app.close());

  let number = 0;
  /** A load of copper weighed out on a scale, and paid for at another weight. */
  function sellCopper(home: string, yard: string, on = '2025-03-10', scale: number | null = scaleId): number {
    number += 1;
    weighIn(ledger, 'CU2', home, on);
    const manifestId = draftManifest(ledger, { yardId, binIds: [binId(ledger, 'CU2')], note: '' });
    weighOut(ledger, manifestId, { gross: home, scaleId: scale });
    loadManifest(ledger, manifestId, day(on), true);
    const line = { loads: [0], paidAs: 'No. 2 copper', deduction: '0', price: '3.60', amount: '1.00' };
    const sale: Sale = { yardId, number: String(number), on, loads: [], lines: [{ ...line, gross: yard, net: yard }] };
    return recordTicket(ledger, ticketOf(ledger, sale, manifestId));
  }

  const report = async (query = '') => {
    const { statusCode, body } = await get(app, `/reports/scales${query}`);
    expect(statusCode).toBe(200);
    expect(textOf(body)).not.toMatch(NO_NUMBER);
    return textOf(body);
  };
  const ticketText = async (id: number) => {
    const text = textOf((await get(app, `/tickets/${id}`)).body);
    expect(text).not.toMatch(NO_NUMBER);
    return text;
  };
  const csvOf = (name: string) => {
    const file = findExport(name);
    if (file === undefined) throw new Error(`no export ${name}`);
    const csv = writeExport(ledger, file, {});
    expect(csv).not.toMatch(NO_NUMBER);
    return csv;
  };

  test('no sale at all: the page says when something will appear', async () => {
    expect(await report()).toContain('Scales can be compared once a ticket is entered');
    expect(csvOf('shrinkage').split('\r\n')).toHaveLength(2);
  });

  test('one sale: no range and no finding', async () => {
    sellCopper('30', '29.5');
    expect(await report()).toContain('Too few sales to say anything yet: it takes three loads over one yard’s scale.');
    expect(csvOf('shrinkage')).toMatch(/,,\r\n$/);
  });

  test('all sales equal: said so, instead of a range of no width', async () => {
    for (const on of ['2025-03-01', '2025-03-05', '2025-03-10']) sellCopper('30', '29.5', on);
    const text = await report();
    expect(text).toContain('sales alike');
    expect(text).toContain('The sales here are all alike, so they show no range in which the difference may lie.');
    expect(csvOf('shrinkage')).toMatch(/,,\r\n$/);
  });

  test('no scale given: the ticket says so and where to write it down; the report still has the ratio', async () => {
    const id = sellCopper('30', '29.5', '2025-03-10', null);
    const text = await ticketText(id);
    expect(text).toContain('cannot be told: no scale was named for a weighing at home');
    expect(text).toContain('Next time name the scale when you weigh in and when you load.');
    const whole = await report();
    expect(whole).toContain('Several scales, or none that was named');
    expect(whole).toContain('Its sales cannot be followed: no scale was named for a weighing at home.');
    expect(csvOf('reconciliation')).toMatch(/,unknown\r\n$/);
  });

  test('no division at home: which scale, and what', async () => {
    ledger.db.sqlite.exec("update scale set division = ''");
    expect(await ticketText(sellCopper('30', '29.5'))).toContain('the step of your Bench scale is not written down');
  });

  test('neither class nor tolerance at the yard: which yard, and what', async () => {
    updateYard(ledger.db, yardId, { ...findYard(ledger.db, yardId), scale_class: 'unmarked' });
    const text = await ticketText(sellCopper('30', '29.5'));
    expect(text).toContain('neither class nor tolerance of the scale of Demo Yard North is known');
    expect(text).toContain('Write down the step and the class on the plate of the yard’s scale');
  });

  test('a yard never weighed at: named, without a number', async () => {
    newYard(ledger, 'Demo Yard East');
    sellCopper('30', '29.5');
    expect(await report()).toContain('Nothing was weighed in these months at Demo Yard East');
  });

  test('no weight expected of a draft: no query weight, no sum of nothing', async () => {
    const manifestId = draftManifest(ledger, { yardId, binIds: [binId(ledger, 'YB1')], note: '' });
    for (const path of [`/manifests/${manifestId}`, `/manifests/${manifestId}/sheet`]) {
      const text = textOf((await get(app, path)).body);
      expect(text).not.toMatch(NO_NUMBER);
      expect(text).not.toContain('Query weight –');
    }
  });

  test('the sheet says which load has no query weight, and why', async () => {
    weighIn(ledger, 'CU2', '30');
    const manifestId = draftManifest(ledger, { yardId, binIds: [binId(ledger, 'CU2')], note: '' });
    const text = textOf((await get(app, `/manifests/${manifestId}/sheet`)).body);
    expect(text).toContain('None for A: no scale was named for a weighing at home.');
  });

  test('while weights are typed the query weight goes along', async () => {
    weighIn(ledger, 'CU2', '30');
    const manifestId = draftManifest(ledger, { yardId, binIds: [binId(ledger, 'CU2')], note: '' });
    const line = loadsOf(ledger.db, manifestId)[0]?.id;
    const understood = async (scale: string) => {
      const query = `gross-${line}=30&unit-${line}=lb&scale-${line}=${scale}`;
      return textOf((await get(app, `/manifests/${manifestId}/lines/${line}/understood?${query}`)).body);
    };
    expect(await understood(String(scaleId))).toContain('Query weight 29.0 lb: at that or less, ask the');
    expect(await understood('')).toContain('No query weight: no scale was named for a weighing at home.');
  });

  test.each(['from=2025-13', 'to=soon', 'yard=99', 'from=2025-05&to=2025-01'])(
    'an address that cannot be read (%s) is told, and shows no figures',
    async (query) => {
      const { statusCode, body } = await get(app, `/reports/scales?${query}`);
      expect(statusCode).toBe(422);
      expect(body).toContain('role="alert"');
    },
  );
});
