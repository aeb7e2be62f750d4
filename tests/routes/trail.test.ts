import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { letIn } from '../../server/access/acts.ts';
import { keepFiles } from '../../server/attachments/acts.ts';
import { checkLedger } from '../../server/check/checks.ts';
import { type Ledger, openLedger } from '../../server/context.ts';
import { draftManifest, setDraftAside } from '../../server/manifests/acts.ts';
import { findManifest, loadsOf } from '../../server/manifests/queries.ts';
import { changeBin, saveContainer } from '../../server/setup/acts.ts';
import { recordTicket, replaceTicket } from '../../server/tickets/acts.ts';
import { ticketPayingFor } from '../../server/tickets/queries.ts';
import { binId, clock, get, lb, newApp, newLedger, newYard, post, setUpWorkedExample, weighIn } from '../helper.ts';
import { sell, sellCopper, ticketOf } from '../sales.ts';

let ledger: Ledger;
let app: FastifyInstance;
let yardId: number;
beforeEach(async () => {
  ledger = newLedger();
  yardId = setUpWorkedExample(ledger).yardId;
  app = await newApp(ledger.db);
});
afterEach(async () => {
  await app.close();
  ledger.db.close();
});

const holds = () => expect(checkLedger(ledger).filter(({ found }) => found.length > 0)).toEqual([]);
const sale = () => ({
  yardId,
  number: '70011',
  on: '2025-03-08',
  loads: [{ code: 'CU2', net: '20', price: '3.60' }],
  lines: [
    { loads: [0], paidAs: 'No. 2 copper', gross: '19.5', deduction: '0', net: '19.5', price: '3.50', amount: '68.25' },
  ],
});
const soldByMonth = () => ledger.db.sqlite.prepare('select sum(paid_minor) from sale_month').pluck().get();

describe('a ticket that should never have been entered', () => {
  test('is taken back: its loads wait again, nothing of it counts, and it stays to be read', async () => {
    weighIn(ledger, 'CU2', '30');
    const { manifestId, ticketId } = sell(ledger, sale());
    const { headers } = await post(app, `/tickets/${ticketId}/take-backs`, { reason: 'of the neighbour' });
    expect(headers.location).toBe(`/tickets/${ticketId}`);
    const { body } = await get(app, `/tickets/${ticketId}`);
    expect(body).toContain('Taken back: of the neighbour.');
    expect(body).toContain('The ticket as printed');
    expect(body).not.toContain('Put something right');
    expect(findManifest(ledger.db, manifestId)?.status).toBe('loaded');
    expect(ticketPayingFor(ledger.db, loadsOf(ledger.db, manifestId)[0]?.id ?? 0)).toBeUndefined();
    expect(soldByMonth()).toBeNull();
    expect((await get(app, `/tickets/new?manifest=${manifestId}`)).body).toContain('name="loads-1"');
    expect((await get(app, `/manifests/${manifestId}`)).body).toContain('was taken back');
    expect((await get(app, '/tickets')).body).not.toContain('>70011</a>');
    expect((await get(app, '/tickets?status=not-counting')).body).toContain('>70011</a> <small>taken back</small>');
    expect((await get(app, `/tickets/${ticketId}/replacement`)).statusCode).toBe(422);
    holds();
  });

  test('counts again as it was when that was a mistake', async () => {
    weighIn(ledger, 'CU2', '30');
    const { manifestId, ticketId } = sell(ledger, sale());
    const kept = () =>
      ['reconciliation_group', 'reconciliation_share', 'balance'].map((table) =>
        ledger.db.sqlite.prepare(`select * from ${table} where 1 order by 1, 2`).all(),
      );
    const before = kept();
    await post(app, `/tickets/${ticketId}/take-backs`, { reason: '' });
    const { statusCode } = await post(app, `/tickets/${ticketId}/take-backs/undo`, {});
    expect(statusCode).toBe(303);
    expect(kept()).toEqual(before);
    expect(findManifest(ledger.db, manifestId)?.status).toBe('sold');
    expect((await get(app, `/tickets/${ticketId}`)).body).toContain('Put something right');
    holds();
  });

  test('does not count again once another ticket pays for its load', async () => {
    weighIn(ledger, 'CU2', '30');
    const { manifestId, ticketId } = sell(ledger, sale());
    await post(app, `/tickets/${ticketId}/take-backs`, {});
    recordTicket(ledger, ticketOf(ledger, { ...sale(), number: '70012' }, manifestId));
    const { statusCode, body } = await post(app, `/tickets/${ticketId}/take-backs/undo`, {});
    expect([statusCode, body.includes('Load A is already paid for by ticket 70012.')]).toEqual([422, true]);
    holds();
  });

  test('is taken back once: a second time is refused, the same tap twice leads to the same place', async () => {
    weighIn(ledger, 'CU2', '30');
    const { ticketId } = sell(ledger, sale());
    const form = { reason: 'twice', requestKey: 'take-back-key' };
    const taps = [
      await post(app, `/tickets/${ticketId}/take-backs`, form),
      await post(app, `/tickets/${ticketId}/take-backs`, form),
    ];
    expect(taps.map(({ statusCode }) => statusCode)).toEqual([303, 303]);
    const again = await post(app, `/tickets/${ticketId}/take-backs`, { reason: 'twice' });
    expect([again.statusCode, again.body.includes('was taken back')]).toEqual([422, true]);
    holds();
  });
});

test('a draft that was set aside is taken up again with what was weighed', async () => {
  weighIn(ledger, 'CU2', '30');
  const id = draftManifest(ledger, { yardId, binIds: [binId(ledger, 'CU2')], note: 'Saturday' });
  setDraftAside(ledger, id);
  expect((await get(app, `/manifests/${id}`)).body).toContain('Take the draft up again');
  expect((await post(app, `/manifests/${id}/taking-up`, {})).statusCode).toBe(303);
  expect((await get(app, `/manifests/${id}`)).body).toContain('Save weights');
  expect((await post(app, `/manifests/${id}/taking-up`, {})).statusCode).toBe(422);
});

describe('the trail', () => {
  test('says what, when and from which device, newest first, with the document', async () => {
    const phone = openLedger(ledger.db, clock, 'phone in the garage');
    weighIn(phone, 'CU2', '30');
    const { body } = await get(app, '/trail');
    const row = body.split('<tbody>')[1]?.split('</tr>')[0] ?? '';
    expect(row).toContain('Weighed in: <a href="/in-weights?id=1">CU2, 30.00 lb</a>');
    expect(row).toContain('phone in the garage');
    expect(row).toMatch(/20 Mar 2025, \d\d:\d\d/);
  });

  test('has what was kept with a document, and who came in, each with the way there', async () => {
    weighIn(ledger, 'CU2', '30');
    const { ticketId } = sell(ledger, sale());
    const paper = { name: 'ticket.pdf', content: 'pdf', width: null, height: null, preview: null } as const;
    const file = { ...paper, sha256: 'a'.repeat(64), whole: () => Buffer.from('%PDF-1.4') };
    keepFiles(ledger, { kind: 'ticket', ids: [ticketId] }, [file], '');
    letIn(ledger, 'Garage phone', 'pairing');
    const ofTicket = (await get(app, `/trail?document=ticket-${ticketId}`)).body;
    expect(ofTicket).toContain('Kept a PDF with a ticket: <a href="/photos/1">ticket.pdf</a>');
    expect(ofTicket).not.toContain('Garage phone</a>');
    const ofDevices = (await get(app, '/trail?kind=devices')).body;
    expect(ofDevices).toContain('Signed in by pairing: <a href="/setup/devices">Garage phone</a>');
  });

  test('is filtered by its address, and the next page keeps the filter', async () => {
    const phone = openLedger(ledger.db, clock, 'phone');
    for (let index = 0; index < 101; index += 1) weighIn(phone, 'CU2', '1');
    const rows = (body: string) => (body.split('<tbody>')[1]?.match(/<tr>/g) ?? []).length;
    const first = (await get(app, '/trail?device=phone&kind=weighings')).body;
    expect(rows(first)).toBe(100);
    expect(first).toContain('href="/trail?device=phone&amp;kind=weighings&amp;page=2"');
    expect(rows((await get(app, '/trail?device=phone&kind=weighings&page=2')).body)).toBe(1);
    expect(rows((await get(app, '/trail?kind=set-up')).body)).toBe(6);
    expect((await get(app, '/trail?kind=tickets')).body).toContain('No line fits this filter.');
    expect((await get(app, '/trail?to=2025-03-18')).body).toContain('No line fits this filter.');
    expect(rows((await get(app, '/trail?from=2025-03-19&to=2025-03-21&kind=set-up')).body)).toBe(6);
    expect((await get(app, '/trail?from=2025-02-30')).statusCode).toBe(422);
  });

  test('each document’s page leads to its own trail', async () => {
    weighIn(ledger, 'CU2', '30');
    const { manifestId, ticketId } = sell(ledger, sale());
    saveContainer(ledger, null, { name: 'bucket', tare_typed: '2', tare_ug: lb('2') });
    for (const [page, document] of [
      ['/bins/CU2', `bin-${binId(ledger, 'CU2')}`],
      [`/manifests/${manifestId}`, `manifest-${manifestId}`],
      [`/tickets/${ticketId}`, `ticket-${ticketId}`],
      [`/setup/yards/${yardId}`, `yard-${yardId}`],
      ['/setup/grades/1', 'grade-1'],
      ['/setup/containers/1', 'container-1'],
    ] as const) {
      expect([page, (await get(app, page)).body.includes(`href="/trail?document=${document}"`)]).toEqual([page, true]);
      const { statusCode, body } = await get(app, `/trail?document=${document}`);
      expect([document, statusCode, body.includes('No line fits')]).toEqual([document, 200, false]);
    }
  });

  test('puts a change back in one tap, and says why not when it was changed again', async () => {
    changeBin(ledger, binId(ledger, 'CU2'), { place: 'shelf' });
    const path = /action="(\/trail\/\d+\/put-back)"/.exec((await get(app, '/trail')).body)?.[1] ?? '';
    changeBin(ledger, binId(ledger, 'CU2'), { place: 'shed' });
    const refused = await post(app, path, {});
    expect([refused.statusCode, refused.body.includes('It was changed again since.')]).toEqual([422, true]);
    const newest = /action="(\/trail\/\d+\/put-back)"/.exec((await get(app, '/trail')).body)?.[1] ?? '';
    const done = await post(app, newest, {});
    expect([done.statusCode, done.headers.location]).toEqual([303, '/trail?done=1']);
    expect((await get(app, '/trail?done=1')).body).toContain('CU2: place shed → shelf');
    expect((await post(app, newest, {})).body).toContain('It is as it was before this already');
  });
});

test.each([
  ['grades', 'Trade name'],
  ['containers', 'tub'],
] as const)(
  'what of the %s nothing uses is removed from its page, and added again from the trail',
  async (path, name) => {
    const forms = {
      grades: { name, family: 'precious', quotedPer: 'lb' },
      containers: { name, tare: '1', unit: 'lb' },
    };
    const added = (await post(app, `/setup/${path}`, forms[path])).headers.location ?? '';
    const id = new URL(added, 'http://x').searchParams.get('added') ?? '';
    expect((await post(app, `/setup/${path}/${id}/removal`, {})).headers.location).toBe(`/setup/${path}`);
    expect((await get(app, `/setup/${path}`)).body).not.toContain(`>${name}</a>`);
    const again = /action="(\/trail\/\d+\/put-back)"/.exec((await get(app, '/trail')).body)?.[1] ?? '';
    expect((await post(app, again, {})).statusCode).toBe(303);
    expect((await get(app, `/setup/${path}`)).body).toContain(`>${name}</a>`);
  },
);

test('the weighings are a list of their own, filtered by bin, day, words and device, with those taken back', async () => {
  newYard(ledger, 'Demo Yard South');
  for (let index = 0; index < 101; index += 1) weighIn(ledger, 'CU2', '1', '2025-03-02');
  weighIn(ledger, 'YB1', '7', '2025-03-05', { note: 'taps from the kitchen' });
  weighIn(openLedger(ledger.db, clock, 'phone'), 'YB1', '8', '2025-03-06');
  const rows = async (query: string) => {
    const { body } = await get(app, `/in-weights?${query}`);
    return (body.split('<tbody>')[1]?.match(/<tr /g) ?? []).length;
  };
  expect(await rows('bin=CU2')).toBe(100);
  expect((await get(app, '/in-weights?bin=CU2')).body).toContain('href="/in-weights?bin=CU2&amp;page=2"');
  expect(await rows('bin=CU2&page=2')).toBe(1);
  expect(await rows('bin=YB1')).toBe(2);
  expect(await rows('from=2025-03-05&to=2025-03-05')).toBe(1);
  expect(await rows('bin=YB1&from=2025-03-06')).toBe(1);
  expect(await rows('text=kitch')).toBe(1);
  expect(await rows('text=kitchen+sink')).toBe(0);
  expect(await rows('device=phone')).toBe(1);
  await post(app, '/in-weights/102/undo', {});
  const { body } = await get(app, '/in-weights?id=102');
  expect(body).toContain('href="/weigh-in?again=102"');
  expect((await get(app, '/weigh-in?again=102')).body).toContain('taps from the kitchen');
  expect((await get(app, '/in-weights?bin=NONE')).statusCode).toBe(422);
});

test('manifests are filtered by number, grade and day, and the bin’s ledger by kind and day', async () => {
  const south = newYard(ledger, 'Demo Yard South');
  weighIn(ledger, 'CU2', '300', '2024-11-01');
  sellCopper(ledger, { north: yardId, south });
  const found = async (query: string) =>
    (await get(app, `/manifests?${query}`)).body.match(/>Manifest \w+<\/a>/g) ?? [];
  expect(await found('number=n')).toEqual(['>Manifest N2</a>', '>Manifest N1</a>']);
  expect(await found('from=2024-12-10&to=2025-01-01')).toEqual(['>Manifest S1</a>']);
  expect(await found('grade=1')).toHaveLength(3);
  expect(await found('grade=2')).toEqual([]);
  const lines = async (query: string) =>
    ((await get(app, `/bins/CU2?${query}`)).body.split('<tbody>')[1]?.match(/<tr /g) ?? []).length;
  expect(await lines('kind=in')).toBe(1);
  expect(await lines('kind=loaded')).toBe(3);
  expect(await lines('kind=loaded&from=2024-12-10&to=2024-12-31')).toBe(1);
  expect(await lines('from=2026-01-01')).toBe(0);
});

test('the figures of a ticket that was replaced by mistake are put back from its replacement', async () => {
  weighIn(ledger, 'CU2', '30');
  const { manifestId, ticketId } = sell(ledger, sale());
  const wrong = sale().lines.map((line) => ({ ...line, net: '9.5', gross: '9.5', amount: '33.25' }));
  const input = ticketOf(ledger, { ...sale(), lines: wrong }, manifestId);
  const replacement = replaceTicket(ledger, ticketId, input, 'misread');
  expect((await get(app, `/tickets/${replacement}`)).body).toContain('Put the first figures back');
  const { body } = await get(app, `/tickets/${replacement}/replacement?like=first`);
  expect(body).toContain('name="gross-1" value="19.5"');
  expect(body).toContain(`name="replaces" value="${replacement}"`);
});
