import type { FastifyInstance } from 'fastify';
import { afterEach, beforeEach, describe, expect, test } from 'vitest';
import type { Ledger } from '../../server/context.ts';
import { gradeId, newApp, newLedger, newYard, setUpWorkedExample } from '../helper.ts';
import { sell, sellCopper } from '../sales.ts';

let ledger: Ledger;
let app: FastifyInstance;
let yards: { north: number; south: number };
beforeEach(async () => {
  ledger = newLedger();
  yards = { north: setUpWorkedExample(ledger).yardId, south: newYard(ledger, 'Demo Yard South') };
  app = await newApp(ledger.db);
});
afterEach(() => app.close());

async function get(url: string) {
  const { statusCode, body } = await app.inject({ method: 'GET', url, headers: { host: '127.0.0.1' } });
  return { statusCode, body };
}

/** The cells of a table, row by row, as a reader sees them; the table is named by the id of its heading. */
function tableOf(body: string, id: string): string[] {
  const table = new RegExp(`<table aria-labelledby="${id}">([\\s\\S]*?)</table>`).exec(body)?.[1] ?? '';
  return table
    .split('</tr>')
    .map((row) => [...row.matchAll(/<t[hd][^>]*>([\s\S]*?)<\/t[hd]>/g)].map((cell) => words(cell[1] ?? '')).join(' | '))
    .filter((row) => row !== '');
}
const words = (text: string) =>
  text
    .replace(/<[^>]*>/g, '')
    .replace(/\s+/g, ' ')
    .trim();
const rowCount = (body: string) => body.split('<tr>').length - 1;

describe('an empty ledger', () => {
  test('has reports that say that nothing was sold', async () => {
    expect((await get('/reports')).body).toContain('Nothing was sold yet.');
    for (const url of ['/reports/realised-prices', '/reports/shrinkage?grade=1']) {
      const { statusCode, body } = await get(url);
      expect(statusCode).toBe(200);
      expect(body).toContain('Nothing was sold here in these months.');
    }
  });
});

describe('the list of reports', () => {
  test('shows the newest figures', async () => {
    sellCopper(ledger, yards);
    const text = words((await get('/reports')).body);
    expect(text).toContain('Realised in Feb 2025 No. 2 copper USD 2.8500 per lb75.00 % of the quote');
    expect(text).toContain('4.71 % of the home weight was not paid for in the 24 months up to the newest sale');
    expect(text).toContain('1.18 % between the scales, 3.53 % in deductions.');
  });
});

describe('realised prices', () => {
  test('of all grades lead to the chart of each', async () => {
    sellCopper(ledger, yards);
    const { body } = await get('/reports/realised-prices?unit=kg');
    expect(words(body)).toContain('All grades, all yards together, Dec 2024 to Feb 2025.');
    expect(body).toContain(`href="/reports/realised-prices?grade=${gradeId(ledger, 'No. 2 copper')}&amp;unit=kg"`);
    expect(body).not.toContain('<figure class="chart">');
    expect(tableOf(body, 'periods').map((row) => row.split(' | ').slice(0, 2))).toEqual([
      ['When', 'Grade'],
      ['Feb 2025', 'No. 2 copper per kg'],
      ['Dec 2024', 'No. 2 copper per kg'],
    ]);
  });

  test('of one grade are a table with its gaps, from the figures worked out by hand', async () => {
    sellCopper(ledger, yards);
    const { body } = await get(`/reports/realised-prices?grade=${gradeId(ledger, 'No. 2 copper')}`);
    expect(tableOf(body, 'periods')).toEqual([
      'When | Realised | Quoted | Paid | Realisation | Home weight | Paid weight',
      'Feb 2025 | 2.8500 | 3.8000 | 3.8000 | 75.00 % | 20.00 | 15.00',
      'Jan 2025 | nothing sold',
      'Dec 2024 | 3.3560 | 3.5333 | 3.4653 | 94.98 % | 150.00 | 147.00',
    ]);
    expect(tableOf(body, 'overall')).toEqual([
      'Realised | Likely between | Quoted | Paid | Realisation | Home weight | Paid weight',
      '3.2965 | 2.9125 to 3.6804 | 3.5647 | 3.4963 | 92.48 % | 170.00 | 162.00',
    ]);
    expect(body).toContain('<title>Realised, Dec 2024: 3.356</title>');
    // Two months with a gap between them: every line begins twice and never runs.
    const lines = [...body.matchAll(/class="chart-line" stroke-dasharray="[^"]*"\s+d="([^"]*)"/g)].map(
      (line) => line[1],
    );
    expect(lines).toHaveLength(6);
    for (const line of lines) expect(line).toMatch(/^M[^ML]*Z?M[^ML]*Z?$/);
  });

  test('by yard draw one line for each', async () => {
    sellCopper(ledger, yards);
    const { body } = await get(`/reports/realised-prices?grade=${gradeId(ledger, 'No. 2 copper')}&split=yard&by=year`);
    expect(tableOf(body, 'periods')).toEqual([
      'When | Yard | Realised | Quoted | Paid | Realisation | Home weight | Paid weight',
      '2025 | Demo Yard North | 2.8500 | 3.8000 | 3.8000 | 75.00 % | 20.00 | 15.00',
      '2024 | Demo Yard North | 3.3000 | 3.6000 | 3.5000 | 91.67 % | 100.00 | 96.00',
      '2024 | Demo Yard South | 3.4680 | 3.4000 | 3.4000 | 102.00 % | 50.00 | 51.00',
    ]);
    expect(body).toContain('<title>Demo Yard South, 2024: 3.468</title>');
  });

  test('of steel are by the ton, and by the pound when that is asked for', async () => {
    sell(ledger, {
      yardId: yards.north,
      number: 'N1',
      on: '2025-03-01',
      loads: [{ code: 'FE1', net: '212', price: '190', per: 'net ton' }],
      lines: [
        {
          loads: [0],
          paidAs: 'Shreddable steel',
          gross: '220',
          deduction: '11',
          net: '209',
          price: '180',
          per: 'net ton',
          amount: '18.81',
        },
      ],
    });
    const usual = tableOf((await get('/reports/realised-prices')).body, 'overall');
    expect(usual[1]).toBe(
      'Shreddable steel per net ton | 177.45 | 1 sale, too few | 190.00 | 180.00 | 93.40 % | 212.00 | 209.00',
    );
    const byPound = tableOf((await get('/reports/realised-prices?unit=lb')).body, 'overall');
    expect(byPound[1]).toBe(
      'Shreddable steel per lb | 0.0887 | 1 sale, too few | 0.0950 | 0.0900 | 93.40 % | 212.00 | 209.00',
    );
  });

  test('lead to a file of the same rows, with every part of the filter written out', async () => {
    sellCopper(ledger, yards);
    const { body } = await get('/reports/realised-prices?grade=1&page=1');
    expect(body).toContain(
      'href="/export/realised-prices.csv?by=month&amp;grade=1&amp;split=no&amp;from=2024-12&amp;to=2025-02"',
    );
  });

  test('turn their pages, and never show more than 200 rows', async () => {
    const insert = ledger.db.sqlite.prepare(
      `INSERT INTO sale_month (month, grade_id, yard_id, sales, home_ug, yard_ug, paid_ug, weighed_ug, quoted_ug, quoted_micro,
        paid_minor, charges_minor) VALUES (?, ?, ?, 1, 453592370, 453592370, 453592370, 453592370, 453592370, 360000000, 350, 0)`,
    );
    for (let index = 0; index < 24; index += 1) {
      const month = `${2023 + Math.floor((index + 3) / 12)}-${String(((index + 3) % 12) + 1).padStart(2, '0')}`;
      for (const grade of [1, 2, 3, 4, 5]) for (const yard of Object.values(yards)) insert.run(month, grade, yard);
    }
    const first = await get('/reports/realised-prices?split=yard');
    expect(tableOf(first.body, 'periods')).toHaveLength(101);
    expect(first.body).toContain('Page 1 of 3');
    expect(rowCount(first.body)).toBeLessThanOrEqual(202);
    const third = await get('/reports/realised-prices?split=yard&page=3');
    expect(tableOf(third.body, 'periods')).toHaveLength(41);
    expect(third.body).toContain('split=yard&amp;page=2');
    expect((await get('/reports/realised-prices?split=yard&page=99')).body).toContain('Page 3 of 3');
    const wide = await get('/reports/shrinkage?grade=1&from=1990-01&to=2100-12');
    expect(rowCount(wide.body)).toBeLessThanOrEqual(202);
  });
});

describe('shrinkage', () => {
  test('of all grades is a table with the sum of all', async () => {
    sellCopper(ledger, yards);
    const { body } = await get('/reports/shrinkage');
    expect(tableOf(body, 'overall')).toEqual([
      'Grade | Total | Likely between | Scales | Deductions | Home weight | Yard weight | Paid weight | Sales',
      'No. 2 copper | 4.71 % | −11.76 to 21.17 % | 1.18 % | 3.53 % | 170.00 | 168.00 | 162.00 | 3',
      'All grades | 4.71 % | −11.76 to 21.17 % | 1.18 % | 3.53 % | 170.00 | 168.00 | 162.00 | 3',
    ]);
    expect(body).not.toContain('<figure class="chart">');
  });

  test('of one yard is drawn over time', async () => {
    sellCopper(ledger, yards);
    const { body } = await get(`/reports/shrinkage?yard=${yards.north}`);
    expect(words(body)).toContain('All grades, Demo Yard North, Dec 2024 to Feb 2025.');
    expect(body).toContain('<title>Demo Yard North, Feb 2025: 25.0 %</title>');
    expect(tableOf(body, 'periods')).toEqual([
      'When | Total | Likely between | Scales | Deductions | Home weight | Yard weight | Paid weight | Sales',
      'Feb 2025 | 25.00 % | 1 sale, too few | 5.00 % | 20.00 % | 20.00 | 19.00 | 15.00 | 1',
      'Jan 2025 | nothing sold',
      'Dec 2024 | 4.00 % | 1 sale, too few | 2.00 % | 2.00 % | 100.00 | 98.00 | 96.00 | 1',
    ]);
  });

  test('with the yards apart shows a scale that read more with a minus', async () => {
    sellCopper(ledger, yards);
    const rows = tableOf((await get('/reports/shrinkage?split=yard')).body, 'overall');
    expect(rows[1]).toMatch(/^No. 2 copper \| Demo Yard North \| 7.50 % \| 2 sales, too few \|/);
    expect(rows[2]).toBe(
      'No. 2 copper | Demo Yard South | −2.00 % | 1 sale, too few | −2.00 % | 0.00 % | 50.00 | 51.00 | 51.00 | 1',
    );
  });
});

describe('how far the figures may lie', () => {
  /** Some sales of one load each, in whole pounds: what was weighed at home and what was paid for, at 2.00 a pound. */
  function sellBrass(yardId: number, pounds: readonly (readonly [home: number, paid: number])[], month = '2025-03') {
    pounds.forEach(([home, paid], index) => {
      const line = { loads: [0], paidAs: 'Yellow brass', gross: String(paid), deduction: '0', net: String(paid) };
      sell(ledger, {
        yardId,
        number: `B${month}-${yardId}-${index}`,
        on: `${month}-10`,
        loads: [{ code: 'YB1', net: String(home), price: '2.00' }],
        lines: [{ ...line, price: '2.00', amount: `${2 * paid}.00` }],
      });
    });
  }
  const SIX = [
    [50, 49],
    [50, 48],
    [50, 50],
    [50, 49],
    [50, 48],
    [50, 49],
  ] as const;

  test('is drawn for the grades side by side, and for each at each yard', async () => {
    sellCopper(ledger, yards);
    sellBrass(yards.north, SIX);
    const { body } = await get('/reports/shrinkage');
    expect(body).toContain('<figcaption>Total shrinkage by grade</figcaption>');
    // 7 of 300 lb; residuals of 48.833: one of 1.167, three of 0.167, two of −0.833; t with 5 degrees of freedom 2.571.
    expect(body).toContain('<title>Yellow brass: 2.33 % (0.75 to 3.91)</title>');
    expect(body).toContain('<title>No. 2 copper: 4.71 % (−11.76 to 21.17)</title>');
    const apart = (await get('/reports/shrinkage?split=yard')).body;
    expect(apart).toContain('<figcaption>Total shrinkage by grade and yard</figcaption>');
    expect(apart).toContain('<title>No. 2 copper: −2.00 % (too few)</title>');
    expect(words(apart)).toContain('Demo Yard South, 1 sale');
    const one = (await get(`/reports/shrinkage?grade=${gradeId(ledger, 'Yellow brass')}`)).body;
    expect(one).not.toContain('Total shrinkage by grade');
  });

  test('is drawn for at most forty of them', async () => {
    const insert = ledger.db.sqlite.prepare(
      `INSERT INTO sale_month (month, grade_id, yard_id, sales, home_ug, yard_ug, paid_ug, weighed_ug, quoted_ug, quoted_micro,
        paid_minor, charges_minor) VALUES ('2025-03', ?, ?, 1, ?, ?, ?, ?, 0, 0, 350, 0)`,
    );
    for (let index = 0; index < 9; index += 1) {
      const yard = newYard(ledger, `Demo Yard ${index}`);
      for (const grade of [1, 2, 3, 4, 5]) {
        const mass = (index * 5 + grade) * 1_000_000_000;
        insert.run(grade, yard, mass, mass, mass, mass);
      }
    }
    const { body } = await get('/reports/shrinkage?split=yard');
    const wide = /<svg class="chart-wide"[\s\S]*?<\/svg>/.exec(body)?.[0] ?? '';
    expect(wide.match(/too few/g)?.length).toBeGreaterThanOrEqual(40);
    expect(wide).not.toContain('Demo Yard 0');
    expect(wide).toContain('Demo Yard 1');
    expect(body).toContain('Drawn are the 40 that weighed the most at home.');
  });

  test('says that sales were alike, and never shows a minus before nothing', async () => {
    sellBrass(yards.north, [
      [50, 50],
      [50, 50],
      [50, 50],
    ]);
    const { body } = await get('/reports/shrinkage');
    expect(tableOf(body, 'overall')[1]).toMatch(/^Yellow brass \| 0.00 % \| sales alike \| 0.00 % \| 0.00 % \|/);
    const prices = await get('/reports/realised-prices');
    expect(tableOf(prices.body, 'overall')[1]).toMatch(/^Yellow brass per lb \| 2.0000 \| sales alike \|/);
    for (const page of [body, prices.body, (await get('/export/shrinkage.csv')).body]) {
      expect(page).not.toMatch(/NaN|Infinity|undefined|null|[-−]0[.0]* %/);
    }
  });

  test('is in the file as shares of four decimals, and empty where it is not known', async () => {
    sellCopper(ledger, yards);
    const lines = (body: string) => body.trim().split('\r\n');
    const together = lines((await get('/export/shrinkage.csv?split=no')).body);
    expect(together[1]).toBe('No. 2 copper,,3,lb,170.0000,168.0000,162.0000,0.0118,0.0353,0.0471,-0.1176,0.2117');
    const apart = lines((await get('/export/shrinkage.csv')).body);
    expect(apart.slice(1).map((line) => line.split(',').slice(-3))).toEqual([
      ['0.0750', '', ''],
      ['-0.0200', '', ''],
    ]);
  });

  test('has a column by month only where a month has sales enough', async () => {
    sellCopper(ledger, yards);
    expect(tableOf((await get('/reports/realised-prices')).body, 'periods')[0]).not.toContain('Likely between');
    sellBrass(yards.north, SIX);
    const rows = tableOf((await get('/reports/realised-prices')).body, 'periods');
    expect(rows[0]).toContain('Realised | Likely between | Quoted');
    // Of what was paid for a pound at home: 2 × 0.97667 ± 2 × 0.01580.
    expect(rows[1]).toMatch(/^Mar 2025 \| Yellow brass per lb \| 1.9533 \| 1.9217 to 1.9849 \|/);
    expect(rows[2]).toMatch(/^Feb 2025 \| No. 2 copper per lb \| 2.8500 \| 1 sale, too few \|/);
  });

  test('is explained once below', async () => {
    sellCopper(ledger, yards);
    for (const url of ['/reports/shrinkage', '/reports/realised-prices']) {
      const text = words((await get(url)).body);
      expect(text.split('in about 95 of 100 cases')).toHaveLength(2);
      expect(text).toContain('fewer than three give none');
    }
  });

  test('for one grade there is a list of what to reckon with at each yard', async () => {
    const brass = gradeId(ledger, 'Yellow brass');
    const list = async (query: string) => {
      const { body } = await get(`/reports/shrinkage?${query}`);
      const found = /<ul class="outlook">([\s\S]*?)<\/ul>/.exec(body)?.[1] ?? '';
      return found
        .split('</li>')
        .map(words)
        .filter((line) => line !== '');
    };
    sellBrass(yards.north, SIX);
    sellBrass(yards.south, [[50, 49]]);
    newYard(ledger, 'Demo Yard East');
    expect(await list('')).toEqual([]);
    expect(await list(`grade=${brass}`)).toEqual([
      'Demo Yard North: 2.3 % (this grade here, 6 sales) likely between 0.8 and 3.9 %',
      'Demo Yard South: 2.3 % (this grade at any yard, 7 sales; only 1 here) likely between 1.0 and 3.6 %',
      'Demo Yard East: 2.3 % (this grade at any yard, 7 sales; none here) likely between 1.0 and 3.6 %',
    ]);
    // What was chosen of yards holds for the list, what was chosen of months does not: it looks back from the newest.
    expect(await list(`grade=${brass}&yard=${yards.south}`)).toHaveLength(1);
    sellCopper(ledger, yards);
    expect(await list(`grade=${brass}&from=2025-03&to=2025-03`)).toHaveLength(3);
    const copper = await list(`grade=${gradeId(ledger, 'No. 2 copper')}`);
    expect(copper[2]).toBe(
      'Demo Yard East: 4.7 % (this grade at any yard, 3 sales; none here) likely between −11.8 and 21.2 %',
    );
  });
});

describe('an address that cannot be read', () => {
  test.each([
    ['by=week', 'Choose one of these: month, quarter, year.'],
    ['by=constructor', 'Choose one of these: month, quarter, year.'],
    ['grade=999', 'There is no such grade. Choose one from the list.'],
    ['grade=NaN', 'Choose one from the list.'],
    ['grade=1e309', 'Choose one from the list.'],
    ['grade=1&grade=2', 'Choose one from the list.'],
    ['grade=%EF%BC%91', 'Choose one from the list.'],
    ['yard=-5', 'Choose one from the list.'],
    ['yard=4294967296', 'There is no such yard. Choose one from the list.'],
    ['split=grade', 'Choose one of these: yard, no.'],
    ['from=2025-13', 'Write the month as year and month, like 2025-03, from 1990 to 2100.'],
    ['to=2025-02-30', 'Write the month as year and month, like 2025-03, from 1990 to 2100.'],
    [`to=${'9'.repeat(10_000)}`, 'Write the month as year and month, like 2025-03, from 1990 to 2100.'],
    ['from=2025-02&to=2025-01', 'The first month cannot be after the last one.'],
    ['unit=each', 'Choose a unit of weight: lb, kg, oz, g, ozt, cwt, net ton, gross ton or tonne.'],
  ])('%.40s: says what would be right, and shows no figures', async (query, sentence) => {
    sellCopper(ledger, yards);
    for (const path of ['/reports/realised-prices', '/reports/shrinkage']) {
      const { statusCode, body } = await get(`${path}?${query}`);
      expect(statusCode).toBe(422);
      expect(body).toContain(
        `<p class="problem" id="f-${query.includes('&to') ? 'from' : query.split('=')[0]}-problem">${sentence}</p>`,
      );
      expect(body).not.toContain('<table');
    }
  });

  test('keeps what was asked for in its choices', async () => {
    sellCopper(ledger, yards);
    const { body } = await get('/reports/shrinkage?from=2025-13&by=quarter&unit=kg');
    for (const kept of ['2025-13', 'quarter', 'kg']) expect(body).toContain(`<option value="${kept}" selected>`);
  });

  test('is not one where a word for everything is used, or a page that is none', async () => {
    sellCopper(ledger, yards);
    for (const query of ['grade=all&yard=all&split=no&unit=&from=&to=&by=', 'page=-1', 'page=x', 'other=1']) {
      expect((await get(`/reports/realised-prices?${query}`)).statusCode).toBe(200);
    }
  });
});
