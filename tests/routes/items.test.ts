import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import { checkLedger } from '../../server/check/checks.ts';
import type { Ledger } from '../../server/context.ts';
import { importFile } from '../../server/files/acts.ts';
import { findImportKind } from '../../server/files/imports/kinds.ts';
import { closeItem, itemAtHand, reopenItem } from '../../server/items/acts.ts';
import { everyItem, findItem } from '../../server/items/queries.ts';
import { undoInWeight } from '../../server/ledger/acts.ts';
import { findInWeight } from '../../server/ledger/queries.ts';
import { amountMinor, NO_MONEY } from '../../server/money/money.ts';
import { Refusal } from '../../server/refusal.ts';
import { day } from '../../server/units/day.ts';
import { get, lb, massIn, newApp, newItem, newLedger, post, setUpWorkedExample, TODAY, weighIn } from '../helper.ts';
import { postFiles } from '../multipart.ts';

let ledger: Ledger;
let app: FastifyInstance;

beforeEach(async () => {
  ledger = newLedger();
  setUpWorkedExample(ledger);
  app = await newApp(ledger.db);
});
afterEach(async () => {
  expect(checkLedger(ledger).filter(({ found }) => found.length > 0)).toEqual([]);
  await app.close();
  ledger.db.close();
});

const PICK_UP = {
  newKind: 'washing machine',
  weight: '140',
  unit: 'lb',
  got: 'bought',
  cost: '12.50',
  source: 'a neighbour',
  pickedUpOn: '2025-03-02',
  proof: 'a note with name and day',
  name: 'white, top loader',
  note: 'lid is cracked',
};
const WEIGHING = {
  bin: 'CU2',
  gross: '2.5',
  container: '',
  tare: '',
  unit: 'lb',
  scale: '',
  occurredOn: '2025-03-03',
  note: '',
};

let keys = 0;
const send = (url: string, fields: Record<string, string>) => {
  keys += 1;
  return post(app, url, { requestKey: `items-test-${keys}`, ...fields });
};
const items = () => [...everyItem(ledger.db)];
const end = (status: 'taken apart' | 'as is' | 'sold whole' | 'discarded', on = '2025-03-05') =>
  ({ status, depth: '', closedOn: day(on), disposalMinor: NO_MONEY }) as const;
const trail = () =>
  ledger.db.sqlite.prepare("select id, act, detail from event where document_kind = 'item' order by id desc").all() as {
    id: number;
    act: string;
    detail: string;
  }[];
const codeOf = (act: () => void): string => {
  try {
    act();
  } catch (error) {
    if (error instanceof Refusal) return error.code;
    throw error;
  }
  return '';
};

describe('picking up', () => {
  test('an item is kept as it was typed, a new kind with it, and its page says so', async () => {
    const { statusCode, headers } = await send('/items', PICK_UP);
    expect([statusCode, headers.location]).toEqual([303, '/items/1?done=added']);
    expect(items()).toMatchObject([
      {
        id: 1,
        kind_name: 'washing machine',
        weight_typed: '140',
        weight_ug: lb('140'),
        got: 'bought',
        cost_minor: 1250,
        status: 'waiting',
        picked_up_on: '2025-03-02',
      },
    ]);
    const { body } = await get(app, '/items/1?done=added');
    for (const said of [
      'Item 1',
      'washing machine',
      '140.00 lb',
      'bought for $12.50, a neighbour',
      'a note with name and day',
    ])
      expect(body).toContain(said);
  });

  test('a kind that is typed again is the one that is there', async () => {
    await send('/items', PICK_UP);
    await send('/items', { ...PICK_UP, newKind: ' Washing Machine' });
    expect(new Set(items().map(({ item_kind_id }) => item_kind_id)).size).toBe(1);
  });

  test('only the kind, the way and the day are needed', async () => {
    const { statusCode } = await send('/items', { newKind: 'tap', got: 'found', pickedUpOn: '2025-03-02' });
    expect(statusCode).toBe(303);
    expect(items()).toMatchObject([{ weight_ug: null, cost_minor: 0, weight_unit: '' }]);
    const { body } = await get(app, '/items/1');
    expect(body).toContain('no weight, no proof');
    expect(body).toContain('Before you take it');
  });

  test('picking up another begins with the kind, the place and the way of the last one', async () => {
    await send('/items', PICK_UP);
    const { body } = await get(app, '/items/new?like=1');
    expect(body).toContain('<option value="1" selected>washing machine</option>');
    expect(body).toContain('value="a neighbour"');
    expect(body).toContain('<option value="bought" selected>');
    expect(body).toContain(`value="${TODAY}"`);
    expect(body).not.toContain('value="140"');
  });

  test.each([
    ['no kind at all', { newKind: '' }, 'newKind', 'Say what sort of thing it is'],
    ['bought for nobody knows what', { cost: '' }, 'cost', 'What did it cost? Enter 0'],
    ['a cost below zero', { cost: '-1' }, 'cost', 'negative'],
    ['a weight that is none', { weight: 'heavy' }, 'weight', ''],
    ['a weight of nothing', { weight: '0' }, 'weight', 'zero'],
    ['a day to come', { pickedUpOn: '2025-03-21' }, 'pickedUpOn', 'not come yet'],
    ['no way that it came', { got: 'stolen' }, 'got', 'Choose how it came'],
    ['a kind that is not there', { newKind: '', kind: '77' }, 'kind', 'from the list'],
  ])('%s is refused beside its field, and nothing typed is lost', async (_, change, field, sentence) => {
    const { statusCode, body } = await send('/items', { ...PICK_UP, ...change });
    expect([statusCode, items().length]).toEqual([422, 0]);
    expect(body).toContain(sentence);
    expect(body).toContain(`href="#f-${field}"`);
    expect(body).toContain('white, top loader');
    expect(ledger.db.sqlite.prepare('select count(*) from item_kind').pluck().get()).toBe(0);
  });

  test('a kind from the list and a new one together are for the person to decide', async () => {
    newItem(ledger, 'tap');
    const { body } = await send('/items', { ...PICK_UP, kind: '1' });
    expect(body).toContain('Choose a kind from the list or type a new one, not both.');
  });

  test('a second tap picks nothing up', async () => {
    await post(app, '/items', { ...PICK_UP, requestKey: 'the-same-key' });
    await post(app, '/items', { ...PICK_UP, requestKey: 'the-same-key' });
    expect(items().length).toBe(1);
  });
});

describe('the list', () => {
  beforeEach(() => {
    newItem(ledger, 'washing machine', { source: 'Mill Lane', proof: 'a note', weight: null });
    newItem(ledger, 'tap', { got: 'found', name: 'long spout', pickedUpOn: day('2025-03-04') });
    newItem(ledger, 'tap', { note: 'has a glass knob', pickedUpOn: day('2025-02-01') });
    closeItem(ledger, 2, end('discarded'));
  });
  const listed = async (query: string): Promise<string[]> =>
    [...(await get(app, `/items?${query}`)).body.matchAll(/<th scope="row"[^>]*><span><a href="\/items\/(\d+)"/g)].map(
      ([, id]) => id ?? '',
    );

  test('the newest pick-up comes first, with what is missing', async () => {
    expect(await listed('')).toEqual(['2', '1', '3']);
    expect((await get(app, '/items')).body).toContain('<b>2</b> waiting');
  });

  test.each([
    ['kind=2', ['2', '3']],
    ['status=discarded', ['2']],
    ['got=given', ['1', '3']],
    ['from=2025-03-01&to=2025-03-03', ['1']],
    ['source=mill', ['1']],
    ['text=glass', ['3']],
    ['text=item%203', ['3']],
    ['text=2', ['2']],
    ['text=tap&status=waiting', ['3']],
    ['text=nothing', []],
  ])('%s', async (query, ids) => {
    expect(await listed(query)).toEqual(ids);
  });

  test('a hundred items are on a page, the rest on the next', async () => {
    for (let count = 0; count < 99; count += 1) newItem(ledger, 'tap');
    expect((await listed('kind=2')).length).toBe(100);
    expect((await listed('kind=2&page=2')).length).toBe(1);
  });

  test('the search finds items by word and by number', async () => {
    for (const asked of ['glass', 'Item 3', '3']) {
      const { body } = await get(app, `/find?q=${encodeURIComponent(asked)}`);
      expect(body).toContain('href="/items/3"');
    }
    expect((await get(app, '/find?q=4+Mar+2025')).body).toContain('1 item picked up');
  });
});

describe('weighing in from an item', () => {
  beforeEach(() => void newItem(ledger, 'washing machine'));

  test('the bench says which item, and keeps it for the next weighing', async () => {
    const { body } = await get(app, '/weigh-in?item=1&bin=CU2');
    expect(body).toContain('From <a href="/items/1">Item 1</a>, washing machine');
    expect(body).toContain('name="item" value="1"');
    expect(body).toContain('href="/weigh-in?bin=CU2">Not from it');
    const { headers } = await send('/in-weights', { ...WEIGHING, item: '1' });
    expect(headers.location).toBe('/weigh-in?bin=CU2&item=1&done=1');
    expect(findInWeight(ledger.db, 1)?.item_id).toBe(1);
    expect(massIn(ledger, 'CU2')).toBe(lb('2.5'));
  });

  test('without an item the bench says nothing of items', async () => {
    const { body } = await get(app, '/weigh-in?bin=CU2');
    expect(body).not.toContain('name="item"');
    const { headers } = await send('/in-weights', WEIGHING);
    expect(headers.location).toBe('/weigh-in?bin=CU2&done=1');
  });

  test('what is refused keeps the item', async () => {
    const { body, statusCode } = await send('/in-weights', { ...WEIGHING, gross: 'x', item: '1' });
    expect(statusCode).toBe(422);
    expect(body).toContain('name="item" value="1"');
  });

  test.each([
    ['that is not there', '99', 'There is no item 99'],
    ['that is no number', 'the tap', 'Write the number of the item'],
  ])('an item %s is refused', async (_, item, sentence) => {
    const { body, statusCode } = await send('/in-weights', { ...WEIGHING, item });
    expect([statusCode, massIn(ledger, 'CU2')]).toEqual([422, 0]);
    expect(body).toContain(sentence);
  });

  test('nothing comes out of an item that was thrown away, until it is put back to waiting', async () => {
    closeItem(ledger, 1, end('discarded'));
    const { body, statusCode } = await send('/in-weights', { ...WEIGHING, item: '1' });
    expect(statusCode).toBe(422);
    expect(body).toContain('Item 1 was thrown away.');
    reopenItem(ledger, 1);
    expect((await send('/in-weights', { ...WEIGHING, item: '1' })).statusCode).toBe(303);
  });

  test('a correction changes the item and clears it', async () => {
    newItem(ledger, 'tap');
    weighIn(ledger, 'CU2', '2.5', '2025-03-03', { itemId: 1 });
    expect((await get(app, '/in-weights/1/correction')).body).toContain('name="item" value="1"');
    await send('/in-weights/1/corrections', { ...WEIGHING, item: 'Item 2', reason: 'of the tap' });
    expect(findInWeight(ledger.db, 2)?.item_id).toBe(2);
    await send('/in-weights/2/corrections', { ...WEIGHING, item: '', reason: 'of none' });
    expect(findInWeight(ledger.db, 3)?.item_id).toBe(null);
  });

  test('the item is said wherever the weighing stands, and its page lists it, taken back too', async () => {
    const id = weighIn(ledger, 'CU2', '2.5', '2025-03-03', { itemId: 1 });
    for (const page of ['/in-weights', '/bins/CU2', '/in-weights?item=1'])
      expect((await get(app, page)).body).toContain('from <a href="/items/1">Item 1</a>');
    expect((await get(app, '/in-weights?item=2')).body).toContain('No weighing fits');
    undoInWeight(ledger, id, false);
    const { body } = await get(app, '/items/1');
    expect(body).toMatch(/<tr class="undone">[\s\S]*CU2[\s\S]*taken back/);
  });
});

describe('how an item ends', () => {
  beforeEach(() => void newItem(ledger, 'washing machine', { pickedUpOn: day('2025-03-02') }));

  test('thrown away, with what that cost, and back to waiting', async () => {
    await send('/items/1/discarding', { disposal: '5', closedOn: '2025-03-05' });
    expect(findItem(ledger.db, 1)).toMatchObject({ status: 'discarded', disposal_minor: 500, closed_on: '2025-03-05' });
    await send('/items/1/reopening', {});
    expect(findItem(ledger.db, 1)).toMatchObject({ status: 'waiting', disposal_minor: 0, closed_on: null });
  });

  test('sold as is: it is weighed whole into the bin that was chosen', async () => {
    const { headers } = await send('/items/1/sale-as-is', { bin: 'FE1', closedOn: '2025-03-05' });
    expect(headers.location).toBe('/weigh-in?item=1&bin=FE1');
    expect(findItem(ledger.db, 1)?.status).toBe('as is');
    expect((await send('/in-weights', { ...WEIGHING, bin: 'FE1', gross: '140', item: '1' })).statusCode).toBe(303);
  });

  test('the bin of the grade that such wholes are sold as is chosen already', async () => {
    ledger.db.sqlite.exec(
      "update item_kind set as_is_grade_id = (select id from grade where name = 'Shreddable steel')",
    );
    const { body } = await get(app, '/items/1');
    expect(body).toContain('Yards commonly take such a thing as Shreddable steel.');
    expect(body).toContain('<option value="FE1" selected>');
  });

  test('what was sold whole or thrown away cannot end otherwise before it is reopened', () => {
    closeItem(ledger, 1, end('sold whole'));
    expect(codeOf(() => closeItem(ledger, 1, end('discarded')))).toBe('item_closed');
    expect(codeOf(() => closeItem(ledger, 1, end('taken apart')))).toBe('item_closed');
    reopenItem(ledger, 1);
    closeItem(ledger, 1, { ...end('taken apart'), depth: 'coarse' });
    expect(itemAtHand(ledger, 1)).toMatchObject({ status: 'taken apart', depth: 'coarse' });
    expect(codeOf(() => reopenItem(ledger, 1))).toBe('');
    expect(codeOf(() => reopenItem(ledger, 1))).toBe('already_undone');
  });

  test('one whose sale whole stands waits again when that sale is taken back, not by itself', async () => {
    closeItem(ledger, 1, end('sold whole'));
    ledger.db.insert('part_sale', {
      item_id: 1,
      item_output_id: null,
      listed_on: null,
      sold_on: day('2025-03-05'),
      price_minor: amountMinor(2000),
      fees_minor: NO_MONEY,
      postage_minor: NO_MONEY,
      note: '',
      recorded_at: '2025-03-05T12:00:00.000Z',
    });
    const { statusCode, body } = await send('/items/1/reopening', {});
    expect([statusCode, findItem(ledger.db, 1)?.status]).toEqual([422, 'sold whole']);
    expect(body).toContain('Take that sale back');
  });

  test('an item of which something is in a bin did not leave whole', async () => {
    const id = weighIn(ledger, 'CU2', '2.5', '2025-03-03', { itemId: 1 });
    const { body, statusCode } = await send('/items/1/discarding', { disposal: '', closedOn: '2025-03-05' });
    expect(statusCode).toBe(422);
    expect(body).toContain('Some of it is in bins already');
    undoInWeight(ledger, id, false);
    expect((await send('/items/1/discarding', { disposal: '', closedOn: '2025-03-05' })).statusCode).toBe(303);
  });

  test.each([
    ['before it was picked up', '2025-03-01', 'before the day on which it was picked up'],
    ['that has not come', '2025-03-21', 'not come yet'],
  ])('it cannot end on a day %s', async (_, closedOn, sentence) => {
    const { body, statusCode } = await send('/items/1/discarding', { disposal: '5', closedOn });
    expect(statusCode).toBe(422);
    expect(body).toContain(sentence);
    expect(body).toContain('href="#f-discard-closedOn"');
  });
});

describe('putting right', () => {
  beforeEach(() => void newItem(ledger, 'washing machine', { source: 'Mill Lane' }));

  test('everything can be put right, and the trail puts it back', async () => {
    closeItem(ledger, 1, end('discarded'));
    const { body } = await get(app, '/items/1/edit');
    expect(body).toContain('value="Mill Lane"');
    const { headers } = await send('/items/1/corrections', {
      ...PICK_UP,
      newKind: 'tap',
      closedOn: '2025-03-06',
      disposal: '7',
    });
    expect(headers.location).toBe('/items/1?done=corrected');
    expect(findItem(ledger.db, 1)).toMatchObject({
      kind_name: 'tap',
      source: 'a neighbour',
      closed_on: '2025-03-06',
      disposal_minor: 700,
      status: 'discarded',
    });
    const [line] = trail();
    expect(line?.act).toBe('changed an item');
    expect(line?.detail).toContain('kind washing machine → tap');
    expect(line?.detail).toContain('where from Mill Lane → a neighbour');
    await send(`/trail/${line?.id}/put-back`, {});
    expect(findItem(ledger.db, 1)).toMatchObject({
      kind_name: 'washing machine',
      source: 'Mill Lane',
      disposal_minor: 0,
    });
  });

  test('what was not changed writes no line', async () => {
    const lines = trail().length;
    await send('/items/1/corrections', { kind: '1', got: 'given', source: 'Mill Lane', pickedUpOn: '2025-03-01' });
    expect(trail().length).toBe(lines);
  });

  test('an ending is put back from the trail as well', async () => {
    closeItem(ledger, 1, { ...end('discarded'), disposalMinor: amountMinor(300) });
    await send(`/trail/${trail()[0]?.id}/put-back`, {});
    expect(findItem(ledger.db, 1)).toMatchObject({ status: 'waiting', disposal_minor: 0 });
  });

  test('one that nothing rests on is removed, and comes back under its own number', async () => {
    newItem(ledger, 'tap');
    expect((await send('/items/1/removal', {})).headers.location).toBe('/items?removed=1');
    expect(findItem(ledger.db, 1)).toBeUndefined();
    expect((await get(app, '/items/1')).statusCode).toBe(404);
    expect((await get(app, '/items?removed=1')).body).toContain('Item 1 is removed.');
    await send(`/trail/${trail()[0]?.id}/put-back`, {});
    expect(findItem(ledger.db, 1)).toMatchObject({ kind_name: 'washing machine', source: 'Mill Lane' });
  });

  test('one that a weighing names stays, also when that was taken back', async () => {
    undoInWeight(ledger, weighIn(ledger, 'CU2', '1', '2025-03-03', { itemId: 1 }), false);
    const { statusCode, body } = await send('/items/1/removal', {});
    expect([statusCode, findItem(ledger.db, 1)?.id]).toEqual([422, 1]);
    expect(body).toContain('Item 1 stays, because weighings, time or sales name it.');
  });

  test('its trail has what was done with it, its weighings that were put right and its photos', async () => {
    undoInWeight(ledger, weighIn(ledger, 'CU2', '1', '2025-03-03', { itemId: 1 }), false);
    const { body } = await get(app, '/trail?document=item-1');
    expect(body).toContain('Trail of Item 1, washing machine');
    expect(body).toContain('Took back an in-weight');
    expect(body).toContain('Added an item');
  });
});

test('a photo of an item is kept with it, is proof, and keeps it from being removed', async () => {
  newItem(ledger, 'tap');
  const pdf = Buffer.from('%PDF-1.4\n%%EOF');
  const sent = await postFiles(app, '/items/1/photos', { caption: 'the receipt' }, [
    { name: 'receipt.pdf', bytes: pdf },
  ]);
  expect(sent.statusCode).toBe(303);
  const { body } = await get(app, '/items/1');
  expect(body).toContain('the receipt');
  expect(body).not.toContain('no proof');
  expect((await get(app, '/photos/1')).body).toContain('item 1');
  expect((await send('/items/1/removal', {})).body).toContain('photos or papers are kept with it');
});

describe('files of items', () => {
  const HEADER = 'item,kind,picked_up_on,got,source,proof,cost,weight,unit,name,note,status,depth,closed_on,disposal';
  const bring = (kind: string, text: string) => {
    const found = findImportKind(kind);
    if (found === undefined) throw new Error(kind);
    return importFile(ledger, found, Buffer.from(text), false);
  };
  const problemsOf = (rows: string) =>
    bring('items', `${HEADER}\n${rows}\n`).problems.map(({ column, sentence }) => `${column}: ${sentence}`);
  beforeEach(() => void bring('item-kinds', 'name,cautions,as_is_grade,rule_minutes\ntap,,Yellow brass,5\n'));

  test('items come in under their own numbers, and as they ended', () => {
    const rows =
      '7,tap,2025-03-01,bought,Mill Lane,a note,3.50,1.2,kg,long,,discarded,,2025-03-04,1.00\n4,TAP,2025-03-01,given,,,,,,,,,,,';
    expect(problemsOf(rows)).toEqual([]);
    expect(items()).toMatchObject([
      { id: 4, kind_name: 'tap', status: 'waiting', weight_ug: null },
      { id: 7, status: 'discarded', cost_minor: 350, weight_ug: 1_200_000_000, disposal_minor: 100 },
    ]);
  });

  test.each([
    ['a number that is taken', '1,tap,2025-03-01,given,,,,,,,,,,,', 'item: Items up to 1 are in the ledger already.'],
    [
      'a number twice',
      '8,tap,2025-03-01,given,,,,,,,,,,,\n8,tap,2025-03-01,given,,,,,,,,,,,',
      'item: “8” is on line 2',
    ],
    ['a kind that is not there', '8,sofa,2025-03-01,given,,,,,,,,,,,', 'kind: There is no kind “sofa”'],
    ['bought for nothing said', '8,tap,2025-03-01,bought,,,,,,,,,,,', 'cost: What did it cost?'],
    ['a weight without a unit', '8,tap,2025-03-01,given,,,,5,,,,,,,', 'unit: Choose a unit'],
    ['an end without a day', '8,tap,2025-03-01,given,,,,,,,,discarded,,,', 'closed_on: Enter a day.'],
    ['a day on one that waits', '8,tap,2025-03-01,given,,,,,,,,,,2025-03-02,', 'closed_on: An item that waits'],
    [
      'an end before the beginning',
      '8,tap,2025-03-01,given,,,,,,,,discarded,,2025-02-02,',
      'closed_on: That is before',
    ],
    [
      'how far, of what was not taken apart',
      '8,tap,2025-03-01,given,,,,,,,,as is,fine,2025-03-02,',
      'depth: Leave this',
    ],
  ])('%s is refused at its cell', (_, rows, sentence) => {
    newItem(ledger, 'tap');
    expect(problemsOf(rows).join('\n')).toContain(sentence);
    expect(items().length).toBe(1);
  });

  test('an in-weight of a file names its item', () => {
    newItem(ledger, 'tap');
    expect(bring('in-weights', 'occurred_on,bin,gross,unit,item\n2025-03-02,YB1,2,lb,1\n').problems).toEqual([]);
    expect(findInWeight(ledger.db, 1)?.item_id).toBe(1);
    const { problems } = bring('in-weights', 'occurred_on,bin,gross,unit,item\n2025-03-02,YB1,2,lb,9\n');
    expect(problems).toMatchObject([{ line: 2, column: 'item' }]);
  });

  test('a file of items is taken back whole, numbers between them or not', async () => {
    newItem(ledger, 'tap');
    const { trailId } = bring(
      'items',
      `${HEADER}\n9,tap,2025-03-01,given,,,,,,,,,,,\n5,tap,2025-03-01,given,,,,,,,,,,,\n`,
    );
    expect(items().map(({ id }) => id)).toEqual([1, 5, 9]);
    expect((await send(`/trail/${trailId}/put-back`, {})).statusCode).toBe(303);
    expect(items().map(({ id }) => id)).toEqual([1]);
  });
});
