import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { type Ledger, openLedger } from '../../server/context.ts';
import { readEarningsSection } from '../../server/earnings/pages.ts';
import { changeSettings } from '../../server/setup/acts.ts';
import { Show } from '../../views/common/show.ts';
import { earningsSection, worthLink } from '../../views/earnings/section.ts';
import { addItem, addRule, addSale, addWork, newKind, quotePounds } from '../earning-items.ts';
import { clock, newApp, newLedger, setUpWorkedExample, TODAY, weighIn } from '../helper.ts';
import { sell } from '../sales.ts';

let ledger: Ledger;
let app: FastifyInstance;
let yardId: number;
beforeEach(async () => {
  ledger = newLedger();
  yardId = setUpWorkedExample(ledger).yardId;
  app = await newApp(ledger.db);
});
afterEach(() => app.close());

async function get(url: string) {
  const { statusCode, body } = await app.inject({ method: 'GET', url, headers: { host: '127.0.0.1' } });
  return { statusCode, body, text: words(body.slice(body.indexOf('<main'))) };
}
const words = (text: string) =>
  text
    .replace(/<\/?(small|br)[^>]*>/g, ' ')
    .replace(/<[^>]*>/g, '')
    .replace(/\s+/g, ' ')
    .trim();
function tableOf(body: string, id: string): string[] {
  const table = new RegExp(`<table[^>]* ?aria-labelledby="${id}">([\\s\\S]*?)</table>`).exec(body)?.[1] ?? '';
  return table
    .split('</tr>')
    .map((row) => [...row.matchAll(/<t[hd][^>]*>([\s\S]*?)<\/t[hd]>/g)].map((cell) => words(cell[1] ?? '')).join(' | '))
    .filter((row) => row !== '');
}
const set = (settings: Partial<Ledger['settings']>) => {
  changeSettings(ledger, { ...ledger.settings, ...settings });
  ledger = openLedger(ledger.db, clock);
};
const problem = (body: string, field: string) => new RegExp(`id="f-${field}-problem">([^<]*)<`).exec(body)?.[1];

/** What an item's page says of its earnings. */
function sectionOf(itemId: number): string {
  const { settings } = openLedger(ledger.db, clock);
  const show = new Show({ settings, today: TODAY, isDemo: false, isStranger: false, path: '/' });
  const parts = readEarningsSection(openLedger(ledger.db, clock), itemId);
  return parts === undefined ? '' : words(String(earningsSection(show, parts)));
}

describe('the earnings of an item', () => {
  test('are said with the estimated part apart, and what has no quote counts as nothing', () => {
    const id = addItem(ledger, newKind(ledger, 'box fan'), {
      gave: { CU2: '1', FE1: '6' },
      minutes: 30,
      costMinor: 100,
    });
    addSale(ledger, id, { price: 1500, fees: 150, postage: 110 });
    quotePounds(ledger, yardId, { 'No. 2 copper': '3.10' });
    const said = sectionOf(id);
    expect(said).toContain('$14.50: $12.40 sold, about $3.10 still in bins, less $1.00 paid for it.');
    expect(said).toContain('$29.00 an hour, for 30 minutes, what is still in bins counted as an estimate.');
    expect(said).toContain('Sold for reuse: $12.40 in 1 sale, after fees and postage.');
    expect(said).toContain('6.00 lb has no quote and counts as nothing.');
    expect(said).toContain('the quote itself, none sold yet, Demo Yard North, 5 days ago');
    expect(said).toContain('no quote');
  });

  test('take the share of quotes that was realised, and leave out what was undone', () => {
    // What came in before it leaves the bin before it.
    weighIn(ledger, 'CU2', '20', '2025-02-01');
    const id = addItem(ledger, newKind(ledger, 'box fan'), { gave: { CU2: '1' } });
    const { db } = ledger;
    db.insert('work_undone', { work_id: addWork(ledger, id, 60), recorded_at: clock.now() });
    db.insert('part_sale_undone', { part_sale_id: addSale(ledger, id, { price: 900 }), recorded_at: clock.now() });
    db.insert('work_clock', { item_id: id, started_at: clock.now() });
    quotePounds(ledger, yardId, { 'No. 2 copper': '4.00', 'Yellow brass': '2.00' });
    const brass = { loads: [0], paidAs: 'Yellow brass', gross: '10', deduction: '0', net: '10', price: '1.50' };
    const copper = { ...brass, loads: [1], paidAs: 'No. 2 copper', price: '3.00', amount: '30.00' };
    sell(ledger, {
      yardId,
      number: 'N1',
      on: '2025-03-10',
      loads: [
        { code: 'YB1', net: '10', price: '2.00' },
        { code: 'CU2', net: '10', price: '4.00' },
      ],
      lines: [{ ...brass, amount: '15.00' }, copper],
    });
    const said = sectionOf(id);
    expect(said).toContain('$3.00 per lb 75 % of the quote $4.00 per lb');
    expect(said).toContain('No minutes are noted, so there is no money per hour.');
    expect(said).toContain('Its clock is running: that time counts once it is stopped.');
    expect(said).not.toContain('Sold for reuse');
  });

  test('have its shares of tickets, first in first out, with the way to each', () => {
    const id = addItem(ledger, newKind(ledger, 'box fan'), { gave: { CU2: '4' }, minutes: 60 });
    weighIn(ledger, 'CU2', '20', '2025-03-02');
    quotePounds(ledger, yardId, { 'No. 2 copper': '4.00' });
    const copper = { loads: [0], paidAs: 'No. 2 copper', gross: '10', deduction: '0', net: '10', price: '3.00' };
    const loads = [{ code: 'CU2', net: '10', price: '4.00' }];
    sell(ledger, { yardId, number: 'N1', on: '2025-03-10', loads, lines: [{ ...copper, amount: '30.00' }] });
    const said = sectionOf(id);
    // Four of the ten pounds that brought 30.00.
    expect(said).toContain('$12.00: $12.00 sold.');
    expect(said).toContain('$12.00 an hour, for 60 minutes.');
    expect(said).toContain('Demo Yard North N1 10 Mar 2025, 4.00 lb No. 2 copper: $12.00');
    expect(said).toContain('Nothing of it is left in bins.');
  });

  test('of no item are none, and each has a way to the question', () => {
    expect(sectionOf(99)).toBe('');
    expect(String(worthLink(7))).toContain('href="/items/7/worth"');
  });
});

describe('the earnings report', () => {
  test('on an empty ledger says when there will be something', async () => {
    const { statusCode, text } = await get('/reports/earnings');
    expect(statusCode).toBe(200);
    expect(text).toContain('There are no kinds of items yet.');
    newKind(ledger, 'box fan');
    expect((await get('/reports/earnings')).text).toContain('No item was closed here.');
    expect((await get('/reports')).body).toContain('href="/reports/earnings"');
  });

  /** Four fans of about two dollars an hour, one of them without minutes, and two drills of thirty. */
  function fill(): { fan: number; drill: number } {
    const [fan, drill] = [newKind(ledger, 'box fan'), newKind(ledger, 'drill')];
    for (const [price, minutes] of [
      [200, 60],
      [220, 60],
      [180, 60],
      [600, 0],
    ] as const) {
      addSale(ledger, addItem(ledger, fan, { minutes, disposalMinor: 0 }), { price });
    }
    addSale(ledger, addItem(ledger, drill, { minutes: 30, closedOn: '2025-03-05' }), { price: 1500 });
    addSale(ledger, addItem(ledger, drill, { minutes: 30, gave: { CU2: '1' }, costMinor: 300 }), { price: 1500 });
    addItem(ledger, fan, { status: 'waiting', minutes: 10 });
    quotePounds(ledger, yardId, { 'No. 2 copper': '3.00' });
    return { fan, drill };
  }

  test('has a row for each kind, best per hour first, and says what is too few', async () => {
    fill();
    const { body, text } = await get('/reports/earnings');
    expect(tableOf(body, 'kinds')).toEqual([
      'Kind | Per hour | Likely between | Money each | Minutes each | Items | Still in bins | Costs',
      'drill | $30.00 | 2 items, too few | $15.00 | 30 | 2 | 9.09 % | $3.00',
      // t with 2 degrees of freedom 4.302653 (table value): 2 ± 4.302653 × 0.2 / √3.
      'box fan | $2.00 | $1.50 to $2.50 | $3.00 | 60 | 4 1 without minutes | 0.00 % | $0.00',
    ]);
    expect(text).toContain('Say in This ledger what an hour is to bring');
    expect(body).toContain('chart-earnings-by-kind-wide-title');
  });

  test('names the kinds to leave at the kerb once a wage is aimed at', async () => {
    fill();
    set({ wage: '12.00' });
    const { text } = await get('/reports/earnings');
    expect(text).toContain('Kinds to leave at the kerb');
    expect(text).toContain('box fan: $1.50 to $2.50 an hour, from 3 items.');
    set({ wage: '2' });
    expect((await get('/reports/earnings')).text).toContain('No kind is clearly below the $2.00 an hour you aim at.');
  });

  test('filters by kind, by the day of closing, and by what is fully sold; the file has the same rows', async () => {
    const { drill } = fill();
    const rows = async (query: string) => tableOf((await get(`/reports/earnings?${query}`)).body, 'kinds').slice(1);
    expect(await rows(`kind=${drill}`)).toHaveLength(1);
    expect(await rows('kind=all')).toHaveLength(2);
    expect((await rows(`kind=${drill}&from=2025-03-05`))[0]).toMatch(/^drill \| \$30.00 \| 1 item, too few/);
    expect((await rows(`kind=${drill}&sold=1`))[0]).toMatch(/\| 1 \| 0.00 %/);
    const { body } = await get(`/reports/earnings?kind=${drill}&to=2025-03-04`);
    expect(body).toContain(`href="/export/earnings.csv?kind=${drill}&amp;to=2025-03-04"`);
    const file = (await get(`/export/earnings.csv?kind=${drill}`)).body.trim().split('\r\n');
    expect(file).toEqual([
      'kind,items,timed_items,hours,money,still_in_bins,costs,per_hour,low,high',
      'drill,2,2,1.0000,30.00,3.00,3.00,30.0000,,',
    ]);
    expect((await get('/export/item-earnings.csv')).body.trim().split('\r\n')).toHaveLength(7);
  });

  test.each([
    ['kind=999', 'kind', 'There is no such kind. Choose one from the list.'],
    ['kind=x', 'kind', 'Choose one from the list.'],
    ['from=2025-02-30', 'from', undefined],
    ['from=2025-03-02&to=2025-03-01', 'from', 'The first day cannot be after the last one.'],
  ])('%s is answered with what would be right', async (query, field, sentence) => {
    fill();
    const { statusCode, body } = await get(`/reports/earnings?${query}`);
    expect(statusCode).toBe(422);
    expect(problem(body, field)).toBe(sentence ?? problem(body, field));
    expect(problem(body, field)).toBeDefined();
    expect(body).not.toContain('<table');
    expect((await get(`/export/earnings.csv?${query}`)).statusCode).toBe(422);
  });
});

describe('worth it', () => {
  const PRICES = { 'No. 2 copper': '3.60', 'Shreddable steel': '0.10', 'Insulated wire, low recovery': '1.00' };

  test('asks first, and says what is missing in the address', async () => {
    const kind = newKind(ledger, 'box fan');
    expect((await get('/worth')).statusCode).toBe(200);
    const unweighed = await get(`/worth?kind=${kind}`);
    expect(unweighed.statusCode).toBe(422);
    expect(problem(unweighed.body, 'weight')).toBe('Enter a weight.');
    const kindless = await get('/worth?kind=&weight=5');
    expect(problem(kindless.body, 'kind')).toBe('Choose what kind of thing it is.');
    expect(problem((await get('/worth?kind=77&weight=5')).body, 'kind')).toBe(
      'There is no such kind. Choose one from the list.',
    );
    expect((await get('/items/99/worth')).statusCode).toBe(404);
  });

  test.each([
    ['weight=0', 'weight'],
    ['weight=-3', 'weight'],
    ['weight=5&price=20', 'chance'],
    ['weight=5&price=20&chance=101', 'chance', 'A chance is 100 % at most.'],
    ['weight=5&price=20&chance=-1', 'chance', 'A chance cannot be negative. Write it like 12.5.'],
    [
      'weight=5&price=20&chance=50&saleMinutes=-5',
      'saleMinutes',
      'A number of minutes cannot be negative. Write it like 12.5.',
    ],
    ['weight=5&saleMinutes=1000000', 'saleMinutes', 'So many minutes cannot be right.'],
    ['weight=5&price=-1&chance=50', 'price'],
    ['weight=5&fees=x', 'fees'],
    ['weight=5&postage=1e309', 'postage'],
    ['weight=5&disposal=NaN', 'disposal'],
  ])('%s is said beside its field, and all that was typed is kept', async (query, field, sentence = '') => {
    const kind = newKind(ledger, 'box fan');
    const { statusCode, body } = await get(`/worth?kind=${kind}&${query}`);
    expect(statusCode).toBe(422);
    expect(problem(body, field)).toContain(sentence);
    for (const [name, value] of new URLSearchParams(query)) expect(body).toContain(`name="${name}" value="${value}"`);
    expect(body).not.toContain('Side by side');
  });

  test('a kind without a history says so, and its rule of thumb is marked', async () => {
    const bare = newKind(ledger, 'lamp');
    const empty = await get(`/worth?kind=${bare}&weight=5`);
    expect(empty.statusCode).toBe(200);
    expect(empty.text).toContain('Not enough is known to compare.');
    expect(empty.text).toContain('No history and no rule of thumb');
    const cord = newKind(ledger, 'cord', 'Insulated wire, low recovery', '6');
    addRule(ledger, cord, 'No. 2 copper', '40');
    quotePounds(ledger, yardId, PRICES);
    const { text, body } = await get(`/worth?kind=${cord}&weight=5`);
    expect(text).toContain('Best: take it apart. It brings about $7.20 in about 6 minutes, $72.00 an hour.');
    expect(text).toContain('Rule of thumb only: none of this kind was taken apart and weighed here yet.');
    expect(body).toContain('class="is-estimate"');
    // 1.00 × 5 lb for it as it is, level at 2.50 × 2 lb of copper.
    expect(text).toContain(
      'Taking it apart is worth it while No. 2 copper is quoted above $2.50 per lb (today $3.60 per lb',
    );
    // One teardown, and the rule is gone: what was weighed is never mixed with it.
    addItem(ledger, cord, { weight: '1', gave: { CU2: '0.3' }, minutes: 3 });
    const weighed = (await get(`/worth?kind=${cord}&weight=5`)).text;
    expect(weighed).not.toContain('Rule of thumb only');
    expect(weighed).toContain('From 1 finished teardown: too few to say how far they spread.');
    expect(weighed).toContain('No history to this depth yet.');
  });

  /** A fan that gave a tenth of copper and six tenths of steel three times, in about half an hour. */
  function fans(): number {
    const kind = newKind(ledger, 'box fan', 'Shreddable steel');
    for (const [copper, minutes] of [
      ['1', 30],
      ['0.9', 25],
      ['1.1', 35],
    ] as const) {
      addItem(ledger, kind, { gave: { CU2: copper, FE1: '6' }, minutes });
    }
    addItem(ledger, kind, { weight: null, gave: { CU2: '3' } });
    quotePounds(ledger, yardId, PRICES);
    return kind;
  }

  test('puts the options side by side with their ranges', async () => {
    const id = addItem(ledger, fans(), { status: 'waiting', weight: '20', name: 'blue' });
    const { body, text } = await get(`/items/${id}/worth`);
    expect(text).toContain('box fan, blue, 20.00 lb.');
    expect(tableOf(body, 'options')).toEqual([
      'What to do | Money | Minutes | Per hour',
      expect.stringMatching(
        /^Take it apart, fine: to clean metal \| \$8.40 likely \$6.61 to \$10.19 \| 60 by weight; the 3 timed took 30 on average \| \$8.40 likely \$/,
      ),
      'Sell it to a yard as it is | $2.00 | none counted | –',
      'Throw it away | $0.00 | none counted | –',
      'Sell it whole, for reuse | Type a price below to compare it.',
      'Take it apart, coarse: to pieces that yards take | No history to this depth yet.',
    ]);
    expect(text).toContain('Best: take it apart, fine.');
    expect(text).toContain('That is $6.40 more than to sell it as it is.');
    expect(text).toContain('1 teardown had no whole weight and could not be learned from.');
    expect(text).toContain('The additional time brings $6.40 an hour over the choice to sell it as it is.');
    expect(tableOf(body, 'gives-fine')).toContainEqual(expect.stringMatching(/^Waste \| 30.0 % \| 6.00 lb/));
  });

  test('with a wage decides by money less the time, and says what would change that', async () => {
    const id = addItem(ledger, fans(), { status: 'waiting', weight: '20' });
    set({ wage: '12', wasteCost: '0.10', wastePer: 'lb' });
    const { text, body } = await get(`/items/${id}/worth`);
    // Fine: 8.40 less 0.60 for waste, less 12.00 for an hour.
    expect(tableOf(body, 'options')[1]).toMatch(
      /^Sell it to a yard as it is \| \$2.00 \| none counted \| – \| \$2.00$/,
    );
    expect(tableOf(body, 'options')[2]).toContain('Throw it away | −$2.00');
    expect(tableOf(body, 'options')[3]).toContain('| −$4.20');
    expect(text).toContain('your time counted at $12.00 an hour');
    expect(text).toContain('Taking it apart (fine) is worth it while No. 2 copper is quoted above $6.70 per lb');
    expect(text).toContain('only worth it in less than 29 minutes (now about 60 minutes)');
  });

  test('suggests what past sales of whole ones brought, and counts the typed chance', async () => {
    const kind = fans();
    const sold = addItem(ledger, kind, { status: 'sold whole', depth: '', minutes: 40 });
    addSale(ledger, sold, { price: 4000, fees: 400, postage: 600, listedOn: '2025-03-04' });
    const { body, text } = await get(`/worth?kind=${kind}&weight=20`);
    expect(body).toContain('name="price" value="40.00"');
    expect(body).toContain('name="chance" value="20"');
    expect(text).toContain('in the middle $40.00, of which $30.00 stayed after fees and postage, usually after 6 days');
    // 40 × 0.2 − 4 − 6
    expect(tableOf(body, 'options')).toContain('Sell it whole, for reuse | −$2.00 | 40 | −$3.00');
    const likely = await get(`/worth?kind=${kind}&weight=20&price=40&chance=90&fees=4&postage=6&saleMinutes=40`);
    expect(likely.text).toContain('Best: sell it whole. It brings $26.00 in 40 minutes, $39.00 an hour.');
    const none = await get(`/worth?kind=${kind}&weight=20&price=`);
    expect(none.text).toContain('Type a price below to compare it.');
  });

  test('takes the weight of an item that has none from the form', async () => {
    const id = addItem(ledger, fans(), { status: 'waiting', weight: null });
    const asked = await get(`/items/${id}/worth`);
    expect(asked.statusCode).toBe(200);
    expect(asked.text).toContain('This item has no whole weight yet.');
    expect((await get(`/items/${id}/worth?weight=`)).statusCode).toBe(422);
    expect((await get(`/items/${id}/worth?weight=10+kg`)).text).toContain('Best: take it apart, fine.');
  });

  test('with a wage asks for the minutes of a sale before it is compared, and leaves parts sold for reuse out', async () => {
    const kind = fans();
    const id = addItem(ledger, kind, { gave: { CU2: '1' }, minutes: 30 });
    const part = ledger.db.insert('item_output', {
      item_id: id,
      kind: 'part',
      name: 'switch',
      net_typed: '',
      unit: 'lb',
      net_ug: null,
      occurred_on: TODAY,
      recorded_at: clock.now(),
    });
    addSale(ledger, id, { price: 700, outputId: part });
    set({ wage: '5' });
    const address = `/worth?kind=${kind}&weight=20&price=40&chance=90`;
    const asked = await get(address);
    expect(asked.text).toContain('type its minutes');
    expect(asked.text).toContain('Parts sold for reuse brought $7.00 in 5 teardowns: they are not counted above.');
    expect(asked.text).toContain('Best: take it apart, fine.');
    expect((await get(`${address}&saleMinutes=30`)).text).toContain('Best: sell it whole.');
  });

  test('stores nothing', async () => {
    const id = addItem(ledger, fans(), { status: 'waiting', weight: '20' });
    const before = ledger.db.sqlite.serialize();
    await get(`/items/${id}/worth?weight=5&price=9&chance=50`);
    expect(ledger.db.sqlite.serialize().equals(before)).toBe(true);
  });
});
