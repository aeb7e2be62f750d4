import { describe, expect, test } from 'vitest';
import { type IntervalChart, type IntervalRow, intervalChart } from '../../views/charts/interval-chart.ts';
import { type LineChart, type LinePoint, lineChart } from '../../views/charts/line-chart.ts';
import { type Waterfall, type WaterfallStep, waterfall } from '../../views/charts/waterfall.ts';

const dollars = (minor: number): string => `$${(Math.abs(minor) / 100).toFixed(2)}`;

function drawWaterfall(steps: WaterfallStep[], more: Partial<Waterfall> = {}): string {
  return String(
    waterfall({
      id: 'ticket-1',
      title: 'Ticket 1',
      description: 'From expected to paid.',
      steps,
      formatAmount: dollars,
      formatSigned: (minor) => `${minor < 0 ? '−' : '+'}${dollars(minor)}`,
      ...more,
    }),
  );
}

function drawLine(figures: (string | null)[], more: Partial<LineChart> = {}): string {
  const points = figures.map((y, index) => ({ x: `2025-0${index + 1}`, y }));
  return String(
    lineChart({
      title: 'No. 2 copper',
      description: 'Realised price by month.',
      yLabel: '$ per lb',
      series: [{ name: 'Realised', mark: 'circle', points }],
      formatY: (value) => value.toFixed(2),
      ...more,
    }),
  );
}

/** Rows of point, low and high; the label is the place in the list. */
function drawIntervals(figures: (string | null)[][], more: Partial<IntervalChart> = {}): string {
  const rows = figures.map(
    ([point = null, low = null, high = null], index): IntervalRow => ({
      label: `Yard ${index + 1}`,
      point,
      low,
      high,
      text: `${point ?? 'nothing'} (${low} to ${high})`,
    }),
  );
  return String(
    intervalChart({
      title: 'Yards',
      description: 'Yard weight against home weight.',
      xLabel: 'percent',
      rows,
      reference: { value: '100', label: 'home' },
      formatX: (value) => value.toFixed(1),
      ...more,
    }),
  );
}

/** The drawing for narrow pages; the wide one holds the same at other places. */
const narrow = (chart: string): string => /<svg class="chart-narrow"[\s\S]*?<\/svg>/.exec(chart)?.[0] ?? '';
const wide = (chart: string): string => /<svg class="chart-wide"[\s\S]*?<\/svg>/.exec(chart)?.[0] ?? '';
const count = (text: string, part: string): number => text.split(part).length - 1;
const linePath = (chart: string): string => /chart-line"[^>]*\sd="([^"]*)"/.exec(narrow(chart))?.[1] ?? '';
/** Where the marks of a line are that all come from one shape. */
const marksOf = (chart: string): string[] => /class="chart-marks" d="M([^"]*)"/.exec(chart)?.[1]?.split('L') ?? [];
const onlyFigures = (chart: string): void => expect(chart).not.toMatch(/NaN|Infinity|undefined/);

/** The worked example of the reconciliation, in cents. */
const workedExample: WaterfallStep[] = [
  { label: 'Expected', amountMinor: 44236, kind: 'total' },
  { label: 'Scale', amountMinor: -206, kind: 'effect', note: 'the two scales disagree' },
  { label: 'Deduction', amountMinor: -215, kind: 'effect' },
  { label: 'Grade', amountMinor: -315, kind: 'effect' },
  { label: 'Price', amountMinor: -445, kind: 'effect' },
  { label: 'Rounding', amountMinor: 1, kind: 'effect' },
  { label: 'Paid', amountMinor: 43056, kind: 'total' },
];

describe('the line chart', () => {
  test('leaves a gap where a period has no figure', () => {
    const path = linePath(drawLine(['3.40', '3.50', null, '3.45', '3.60']));
    expect(count(path, 'M')).toBe(2);
    expect(count(path, 'L')).toBe(2);
  });

  test('leaves the same gap where a series leaves the period out', () => {
    const chart = drawLine([], {
      series: [
        { name: 'Quoted', mark: 'square', points: ['a', 'b', 'c'].map((x) => ({ x, y: '2' })) },
        {
          name: 'Paid',
          mark: 'circle',
          points: [
            { x: 'a', y: '1' },
            { x: 'c', y: '3' },
          ],
        },
      ],
    });
    const paid = /series-2"><path class="chart-line"[^>]*\sd="([^"]*)"/.exec(narrow(chart))?.[1] ?? '';
    expect(count(paid, 'M')).toBe(2);
  });

  test('shows a point between two gaps as a mark with its figure', () => {
    const chart = drawLine([null, '3.50', null, '3.45', '3.60']);
    expect(wide(chart)).toContain('<title>Realised, 2025-02: 3.50</title>');
  });

  test('marks points that stand alone even where most marks are left out', () => {
    const points = Array.from({ length: 60 }, (_, index) => ({
      x: `m${index}`,
      y: index === 30 || index === 32 ? null : '3.5',
    }));
    const chart = narrow(drawLine([], { series: [{ name: 'Paid', mark: 'circle', points }] }));
    const alone = [...chart.matchAll(/M([\d.]+,[\d.]+)Z/g)].map((match) => match[1]);
    expect(alone).toHaveLength(1);
    expect(marksOf(chart)).toContain(alone[0]);
    expect(marksOf(chart).length).toBeLessThan(40);
  });

  test('draws a single point', () => {
    const chart = drawLine(['3.60']);
    expect(wide(chart)).toContain('2025-01: 3.60');
    expect(marksOf(narrow(chart))).toHaveLength(1);
    onlyFigures(chart);
  });

  test('draws figures that are all zero', () => {
    onlyFigures(drawLine(['0', '0', '0']));
  });

  test('is a sentence when there is no figure at all', () => {
    for (const chart of [drawLine([]), drawLine([null, null]), drawLine([], { series: [] })]) {
      expect(chart).toContain('There is nothing to draw yet');
      expect(chart).not.toContain('<svg');
    }
  });

  test('never writes the same figure at two ticks', () => {
    const chart = narrow(drawLine(['3.421', '3.422', '3.424']));
    const ticks = [...chart.matchAll(/text-anchor="end">([^<]*)</g)].map((match) => match[1]);
    expect(new Set(ticks).size).toBe(ticks.length);
  });

  test('marks only what was seen, and the newest point', () => {
    const points = ['a', 'b', 'c', 'd', 'e'].map((x) => ({ x, y: '3.5', isSeen: x === 'a' || x === 'c' }));
    const chart = wide(drawLine([], { series: [{ name: 'North', mark: 'circle', points }] }));
    const marked = [...chart.matchAll(/<title>North, (\w): 3.50<\/title>/g)].map((match) => match[1]);
    expect(marked).toEqual(['a', 'c', 'e']);
  });

  test('leaves marks out where what was seen lies too close', () => {
    const points = Array.from({ length: 200 }, (_, index) => ({ x: `d${index}`, y: '3.5', isSeen: index % 2 === 0 }));
    const chart = narrow(drawLine([], { series: [{ name: 'North', mark: 'circle', points }] }));
    expect(marksOf(chart).length).toBeLessThan(30);
    const [end] =
      /[\d.]+,[\d.]+$/.exec(linePath(drawLine([], { series: [{ name: 'North', mark: 'circle', points }] }))) ?? [];
    expect(marksOf(chart).at(-1)).toBe(end);
  });

  test('tells a mouse the figure of each mark where they stand apart, and writes the shape once where they do not', () => {
    const seriesOf = (many: number) => ({
      series: [
        {
          name: 'North',
          mark: 'circle' as const,
          points: Array.from({ length: many }, (_, at) => ({ x: `m${at}`, y: `${at}` })),
        },
      ],
    });
    const few = drawLine([], seriesOf(24));
    expect(count(wide(few), '<title>North, m')).toBe(24);
    expect(narrow(few)).not.toContain('<title>North');
    const more = wide(drawLine([], seriesOf(30)));
    expect(more).not.toContain('<title>North');
    expect(marksOf(more)).toHaveLength(30);
    expect(count(more, 'class="chart-mark"')).toBe(1);
  });

  test('draws a figure that stands until the next one as steps', () => {
    const stepped = linePath(drawLine(['3', '4', '5'], { isStepped: true }));
    const corners = [...stepped.matchAll(/([\d.]+),([\d.]+)/g)].map((match) => [match[1], match[2]]);
    // Along, then up: each corner shares one coordinate with the one before.
    expect(corners).toHaveLength(5);
    for (const [index, [x, y]] of corners.slice(1).entries()) {
      expect([x, y].filter((at, side) => at === corners[index]?.[side])).toHaveLength(1);
    }
  });

  test('labels at most eight periods, the newest always', () => {
    const points = Array.from({ length: 50 }, (_, index) => ({ x: `w${index}`, y: '1.5' }));
    const chart = drawLine([], { series: [{ name: 'Paid', mark: 'circle', points }] });
    for (const drawing of chart.split(/<svg class="chart-(?:narrow|wide)"/).slice(1)) {
      const labels = [...drawing.matchAll(/text-anchor="middle">([^<]*)</g)].map((match) => match[1]);
      expect(labels.length).toBeLessThanOrEqual(8);
      expect(labels.at(-1)).toBe('w49');
    }
  });

  test('gives each series another dash and mark, so that colour is not needed', () => {
    const points = [
      { x: 'a', y: '1' },
      { x: 'b', y: '2' },
    ];
    const marks = ['circle', 'square', 'triangle', 'diamond'] as const;
    const chart = narrow(drawLine([], { series: marks.map((mark) => ({ name: mark, mark, points })) }));
    const dashes = [...chart.matchAll(/stroke-dasharray="([^"]*)"/g)].map((match) => match[1]);
    const shapes = [...chart.matchAll(/class="chart-mark(?: chart-paper)?" d="([^"]*)"/g)].map((match) => match[1]);
    expect(new Set(dashes).size).toBe(4);
    expect(new Set(shapes).size).toBe(4);
  });
});

const pointsOf = (figures: (string | null)[]): LinePoint[] =>
  figures.map((y, index) => ({ x: `2025-0${index + 1}`, y }));
const bandOf = (low: (string | null)[], high: (string | null)[]): Partial<LineChart> => ({
  band: { low: pointsOf(low), high: pointsOf(high), label: 'tolerance' },
});
/** Places along one axis of the elements of a class, such as the lines of the limits. */
const placesOf = (chart: string, className: string, attribute: string): number[] =>
  [...narrow(chart).matchAll(new RegExp(`class="${className}"[^>]* ${attribute}="([-\\d.]+)"`, 'g'))].map(([, at]) =>
    Number(at),
  );
const limits = [
  { value: '5', label: 'signal' },
  { value: '-5', label: 'signal' },
];
const marksAt = (...periods: number[]) => periods.map((period) => ({ x: `d${period}`, label: `event ${period}` }));
const manyPoints = Array.from({ length: 200 }, (_, index) => ({ x: `d${index}`, y: String(index % 4) }));
const many = [{ name: 'Drift', mark: 'circle' as const, points: manyPoints }];

describe('the limits of a line chart', () => {
  test('are on the axis even where no figure comes near, each with its label and one above the other', () => {
    const chart = drawLine(['0.1', '0.3', '-0.2'], { limits });
    const [high = 0, low = 0] = placesOf(chart, 'chart-limit', 'y1');
    expect(high).toBeGreaterThan(36);
    expect(high).toBeLessThan(low);
    expect(low).toBeLessThan(226);
    expect(count(narrow(chart), '>signal</text>')).toBe(2);
    onlyFigures(chart);
  });

  test('are told to those who cannot see them', () => {
    expect(drawLine(['1'], { limits })).toMatch(
      /<desc[^>]*>Realised price by month\. A line at 5\.00 is marked: signal\./,
    );
  });

  test('keep their labels apart where they lie close together', () => {
    const close = ['2.00', '2.01', '2.02'].map((value) => ({ value, label: 'about the same' }));
    const chart = drawLine(['0', '1', '9'], { limits: close });
    const spots = [...narrow(chart).matchAll(/class="chart-over" x="([\d.]+)" y="([\d.]+)"/g)].map(([, x, y]) => ({
      x: Number(x),
      y: Number(y),
    }));
    expect(spots).toHaveLength(3);
    for (const [index, one] of spots.entries()) {
      for (const other of spots.slice(index + 1)) {
        expect(Math.abs(one.x - other.x) >= 14 * 8 || Math.abs(one.y - other.y) >= 16).toBe(true);
      }
    }
  });

  test('keep their labels off the line where there is room', () => {
    const chart = narrow(drawLine(['4.4', '5.6', '4.4', '-5', '-5', '-5'], { limits: limits.slice(0, 1) }));
    const [, x = ''] = /class="chart-over" x="([\d.]+)"/.exec(chart) ?? [];
    const [fourth = ''] = (marksOf(chart)[3] ?? '').split(',');
    expect(fourth).toMatch(/^\d/);
    expect(Number(x)).toBeGreaterThan(Number(fourth) - 60);
  });

  test('are nothing to draw without a figure', () => {
    expect(drawLine([null, null], { limits, marks: [], zero: true })).toContain('There is nothing to draw yet');
  });

  test('draw figures that are all the same as the limit', () => {
    onlyFigures(drawLine(['5', '5'], { limits: limits.slice(0, 1) }));
  });
});

describe('the marks of a line chart', () => {
  test('are a figure on top and a list beneath', () => {
    const chart = drawLine(['1', '2', '3'], {
      marks: [
        { x: '2025-03', label: 'adjusted' },
        { x: '2025-01', label: 'shift began' },
      ],
    });
    expect(count(narrow(chart), '<path class="chart-event"')).toBe(2);
    expect(narrow(chart)).toMatch(/>1<\/text>[\s\S]*>2<\/text>/);
    expect(chart).toContain('<ol class="chart-events"><li>2025-01: shift began</li><li>2025-03: adjusted</li></ol>');
  });

  test('do not touch where they are close together, at the edges and many', () => {
    const cases = [
      marksAt(100, 101, 102, 103),
      marksAt(0, 1, 2),
      marksAt(197, 198, 199),
      marksAt(...manyPoints.keys()),
    ];
    for (const marks of cases.map((all) => all.slice(0, 40))) {
      const chart = drawLine([], { series: many, marks });
      const spots = [...narrow(chart).matchAll(/<circle[^>]* cx="([\d.]+)" cy="([\d.]+)"/g)];
      const places = spots.map(([, x, y]) => ({ x: Number(x), y: Number(y) }));
      expect(places).toHaveLength(marks.length);
      for (const [index, one] of places.entries()) {
        expect(one.x).toBeGreaterThan(9);
        expect(one.x).toBeLessThan(351);
        for (const other of places.slice(index + 1)) {
          expect(Math.hypot(one.x - other.x, one.y - other.y)).toBeGreaterThan(19);
        }
      }
      onlyFigures(chart);
    }
  });

  test('at the same period are one', () => {
    const marks = ['signal', 'adjusted'].map((label) => ({ x: '2025-02', label }));
    const chart = drawLine(['1', '2'], { marks });
    expect(count(narrow(chart), '<circle')).toBe(1);
    expect(chart).toContain('<li>2025-02: signal; adjusted</li>');
  });

  test('of a period that the chart does not have are left out', () => {
    const chart = drawLine(['1', '2'], { marks: [{ x: '2031-01', label: 'adjusted' }] });
    expect(chart).not.toContain('chart-event');
    expect(chart).not.toContain('adjusted');
  });
});

describe('the band of a line chart', () => {
  const bands = (chart: string): string[] =>
    [...narrow(chart).matchAll(/class="chart-band" d="([^"]*)"/g)].map(([, path = '']) => path);

  test('is on the axis and in the legend', () => {
    const chart = drawLine(['0.02', '0.05'], bandOf(['-0.1', '-0.1'], ['0.1', '0.1']));
    expect(bands(chart)).toHaveLength(1);
    expect(chart).toContain('<span>tolerance</span>');
    const ticks = [...narrow(chart).matchAll(/text-anchor="end">([^<]*)</g)].map((match) => Number(match[1]));
    expect(Math.min(...ticks)).toBeLessThanOrEqual(-0.1);
    expect(Math.max(...ticks)).toBeGreaterThanOrEqual(0.1);
    onlyFigures(chart);
  });

  test('has a gap where either of its lines has none', () => {
    const chart = drawLine(['1', '2', '3', '4', '5'], bandOf(['0', '0', null, '0', '0'], ['6', '6', '6', '6']));
    expect(bands(chart)).toHaveLength(2);
    onlyFigures(chart);
  });

  test('of a single period has a width', () => {
    const chart = drawLine(['1'], bandOf(['0'], ['2']));
    const along = [...(bands(chart)[0] ?? '').matchAll(/([\d.]+),[\d.]+/g)].map(([, x]) => Number(x));
    expect(Math.max(...along) - Math.min(...along)).toBeGreaterThan(10);
  });

  test('goes in steps where the line does', () => {
    const chart = drawLine(['1', '1', '1'], { ...bandOf(['0', '0', '0'], ['2', '3', '2']), isStepped: true });
    const corners = [...(bands(chart)[0] ?? '').matchAll(/([\d.]+),([\d.]+)/g)].map((match) => [match[1], match[2]]);
    for (const [index, corner] of corners.slice(1).entries()) {
      expect(corner.some((at, side) => at === corners[index]?.[side])).toBe(true);
    }
  });

  test('of nothing is neither drawn nor in the legend', () => {
    const chart = drawLine(['1', '2'], bandOf([null, null], [null, null]));
    expect(chart).not.toContain('chart-band');
    expect(chart).not.toContain('tolerance');
  });
});

describe('zero on a line chart', () => {
  const ticksOf = (chart: string): string[] =>
    [...narrow(chart).matchAll(/text-anchor="end">([^<]*)</g)].map((match) => match[1] ?? '');

  test('is on the axis when asked for, with a line of its own', () => {
    for (const figures of [
      ['3.4', '3.5'],
      ['-7', '-6.5'],
      ['0', '0'],
      ['2', '2'],
      ['-1', null, '1'],
    ]) {
      const chart = drawLine(figures, { zero: true });
      expect(ticksOf(chart)).toContain('0.00');
      const [line = Number.NaN] = placesOf(chart, 'chart-zero', 'y1');
      expect(line).toBeGreaterThanOrEqual(36);
      expect(line).toBeLessThanOrEqual(226);
      onlyFigures(chart);
    }
  });

  test('is left away otherwise', () => {
    expect(drawLine(['3.4', '3.5'])).not.toContain('chart-zero');
    expect(ticksOf(drawLine(['3.4', '3.5']))).not.toContain('0.00');
  });
});

describe('a line chart of two hundred periods', () => {
  test('shows people the short labels and never the keys', () => {
    const chart = drawLine([], { series: many, marks: marksAt(7), labelOf: (x) => x.replace('d', 'day ') });
    expect(chart).toContain('>day 199<');
    expect(chart).toContain('<li>day 7: event 7</li>');
    expect(chart).not.toMatch(/>[^<]*\bd\d/);
  });

  test('may have the same label at several periods', () => {
    const chart = narrow(drawLine([], { series: many, labelOf: () => '8 Mar' }));
    expect(linePath(`${chart}`).split('L')).toHaveLength(200);
  });

  test('keeps long labels at the axis apart', () => {
    const chart = drawLine([], { series: many, labelOf: (x) => `28 September 2025, ${x}` });
    for (const drawing of chart.split(/<svg class="chart-(?:narrow|wide)"/).slice(1)) {
      const labels = [...drawing.matchAll(/x="([\d.]+)" y="[\d.]+" text-anchor="middle">([^<]*)</g)];
      const ends = labels.map(([, x, text = '']) => ({ middle: Number(x), half: text.length * 3.5 }));
      expect(ends.length).toBeGreaterThan(0);
      for (const [index, label] of ends.slice(1).entries()) {
        const before = ends[index] ?? label;
        expect(label.middle - label.half).toBeGreaterThan(before.middle + before.half);
      }
    }
  });

  test('has smaller marks where many points stand alone', () => {
    const alone = manyPoints.map(({ x }, index) => ({ x, y: index % 2 === 0 ? '1' : null }));
    const chart = narrow(drawLine([], { series: [{ name: 'Drift', mark: 'circle', points: alone }] }));
    const sizeOf = (drawing: string): number => Number(/class="chart-mark" d="M([\d.]+)/.exec(drawing)?.[1]);
    expect(marksOf(chart)).toHaveLength(100);
    expect(sizeOf(chart)).toBeLessThan(sizeOf(narrow(drawLine(['1', '2']))));
  });
});

describe('the interval chart', () => {
  const whiskers = (chart: string): string[] =>
    [...narrow(chart).matchAll(/class="chart-whisker" d="([^"]*)"/g)].map(([, path = '']) => path);
  const filled = (chart: string): number => count(narrow(chart), 'class="chart-mark" ');
  const hollow = (chart: string): number => count(narrow(chart), 'class="chart-mark chart-paper"');

  test('has a label, a point, an interval and a text in each row', () => {
    const chart = drawIntervals([
      ['99', '98.5', '99.5'],
      ['98.8', '98.2', '99.4'],
    ]);
    expect(whiskers(chart)).toHaveLength(2);
    expect(filled(chart)).toBe(2);
    for (const part of [
      '>Yard 1</text>',
      '>Yard 2</text>',
      '>99 (98.5 to 99.5)</text>',
      '>home</text>',
      '>percent</text>',
    ]) {
      expect(narrow(chart)).toContain(part);
    }
    expect(chart).not.toContain('chart-note');
    onlyFigures(chart);
  });

  test('shows a row without an interval as a hollow mark, one without a point as its text', () => {
    const chart = drawIntervals([['99', '98', '100'], ['99.5'], ['99.2', '98', null], [null, '98', '100']]);
    expect([whiskers(chart).length, filled(chart), hollow(chart)]).toEqual([1, 1, 2]);
    expect(narrow(chart)).toContain('>nothing (98 to 100)</text>');
    expect(chart).toContain('A hollow mark has no range.');
    onlyFigures(chart);
  });

  test('lays the points in the order of their figures', () => {
    const chart = drawIntervals(
      [
        ['-3', '-4', '-2'],
        ['-1', '-2', '0'],
        ['2', '1', '3'],
      ],
      { reference: null },
    );
    const places = [...narrow(chart).matchAll(/chart-mark" transform="translate\(([\d.]+)/g)].map(([, x]) => Number(x));
    expect(places).toHaveLength(3);
    expect(places.toSorted((one, other) => one - other)).toEqual(places);
    expect(chart).not.toContain('chart-reference');
  });

  test('has the reference on the axis however far it is', () => {
    const chart = drawIntervals([['60', '59.9', '60.1']]);
    const at = Number(/class="chart-reference" d="M([\d.]+)/.exec(narrow(chart))?.[1]);
    expect(at).toBeGreaterThan(300);
    expect(at).toBeLessThan(360);
  });

  test('cuts a far wider interval at the edge with an arrow, and says so', () => {
    const usual = ['98', '98.4', '98.8', '99.2'].map((point) => [
      point,
      String(Number(point) - 0.3),
      String(Number(point) + 0.3),
    ]);
    const chart = drawIntervals([...usual, ['98.5', '60', '99']]);
    const [first = '', , , , last = ''] = whiskers(chart);
    const [, from, to] = /^M([\d.]+) [\d.]+H([\d.]+)/.exec(first) ?? [];
    // A sixth of the axis at least is left to an ordinary interval.
    expect(Number(to) - Number(from)).toBeGreaterThan(60);
    expect(last).toMatch(/^M1 [\d.]+H[\d.]+M6 [\d.]+L1 [\d.]+l5 5M[\d.]+ [\d.]+v10$/);
    expect(chart).toContain('An arrow means that the interval goes on beyond the edge of the picture.');
  });

  test('cuts the wide one of two', () => {
    const chart = drawIntervals([
      ['99', '98.9', '99.1'],
      ['99', '50', '150'],
    ]);
    expect(whiskers(chart)[1]).not.toContain('v10');
    expect(whiskers(chart)[0]).toContain('v10');
  });

  test('draws figures that are all the same, one row, and intervals of no width', () => {
    for (const chart of [
      drawIntervals([['100', '100', '100']]),
      drawIntervals([['0', '0', '0'], ['0']], { reference: { value: '0', label: 'none' } }),
      drawIntervals([['5']], { reference: null }),
      drawIntervals([
        ['100', '100', '100'],
        ['99', '99', '99'],
        ['98', '90', '105'],
      ]),
    ]) {
      expect(chart).toContain('<svg');
      onlyFigures(chart);
    }
  });

  test('draws figures below zero, and an interval written the other way round', () => {
    const chart = drawIntervals(
      [
        ['-1', '-0.7', '-1.3'],
        ['-2', '-3', '-1'],
      ],
      { reference: { value: '0', label: 'none' } },
    );
    const [, from, to] = /^M([\d.]+) [\d.]+H([\d.]+)/.exec(whiskers(chart)[0] ?? '') ?? [];
    expect(Number(from)).toBeLessThan(Number(to));
    onlyFigures(chart);
  });

  test('is a sentence when there is no row, and when no row has a figure', () => {
    for (const chart of [drawIntervals([]), drawIntervals([[null], [null, '1', '2']])]) {
      expect(chart).toContain('There is nothing to draw yet');
      expect(chart).not.toContain('<svg');
    }
  });

  test('never writes the same figure at two ticks, and leaves room between them', () => {
    const chart = drawIntervals([['100.01', '100', '100.02']], {
      formatX: (value) => `${value.toFixed(1)} parts in a hundred`,
    });
    const labels = [...narrow(chart).matchAll(/class="chart-soft"[^>]*text-anchor="middle">([^<]*)</g)].map(
      ([, text]) => text,
    );
    expect(new Set(labels).size).toBe(labels.length);
    expect(labels.length).toBeLessThan(3);
  });

  test('parts many rows into drawings, each with its axis and a name of its own', () => {
    const chart = drawIntervals(Array.from({ length: 40 }, (_, index) => [String(99 + index / 40), '98', '101']));
    expect(count(chart, '<svg class="chart-narrow"')).toBe(2);
    expect(count(chart, '<svg class="chart-wide"')).toBe(2);
    expect(chart).toContain('>Yards, part 2 of 2</title>');
    const ids = [...chart.matchAll(/\sid="([^"]*)"/g)].map((match) => match[1]);
    expect(new Set(ids).size).toBe(8);
    expect(ids).toHaveLength(8);
    for (let row = 1; row <= 40; row += 1) expect(count(chart, `>Yard ${row}</text>`)).toBe(2);
  });

  test('breaks long words and texts, and keeps all of them', () => {
    const label = 'Demo Yard by the river with a name that goes on and on';
    const rows = [
      {
        label,
        note: 'on two scales',
        point: '99',
        low: '98',
        high: '100',
        text: '99 percent of the home weight (98 to 100)',
      },
    ];
    const chart = drawIntervals([], { rows });
    const words = narrow(chart)
      .replace(/<title>[^<]*<\/title>/g, '')
      .replace(/<[^>]*>/g, ' ')
      .replace(/\s+/g, ' ');
    for (const word of `${label} on two scales (98 to 100)`.split(' ')) expect(words).toContain(word);
    onlyFigures(chart);
  });
});

describe('the waterfall', () => {
  test('labels every step and writes its amount', () => {
    const chart = narrow(drawWaterfall(workedExample));
    for (const { label } of workedExample) expect(chart).toContain(`>${label}</text>`);
    for (const amount of ['$442.36', '−$2.06', '−$2.15', '−$3.15', '−$4.45', '+$0.01', '$430.56']) {
      expect(chart).toContain(`>${amount}</text>`);
    }
  });

  test('tells the steps to those who cannot see it', () => {
    expect(drawWaterfall(workedExample)).toMatch(
      /<desc[^>]*>From expected to paid\. Expected \$442\.36; Scale −\$2\.06;/,
    );
  });

  test('says where the bars begin when that is not zero, and cuts the total bars', () => {
    const chart = drawWaterfall(workedExample);
    expect(chart).toContain('The bars begin at $420.00, not at zero.');
    expect(count(narrow(chart), 'chart-break')).toBe(2);
  });

  test('begins at zero when the effects can be seen from there', () => {
    const chart = drawWaterfall([
      { label: 'Expected', amountMinor: 10000, kind: 'total' },
      { label: 'Grade', amountMinor: -6000, kind: 'effect' },
      { label: 'Paid', amountMinor: 4000, kind: 'total' },
    ]);
    expect(chart).not.toContain('begin at');
    expect(chart).not.toContain('chart-break');
  });

  test('hatches what takes away and fills what adds', () => {
    const chart = narrow(drawWaterfall(workedExample));
    expect(count(chart, 'class="chart-loss" fill="url(#chart-ticket-1-narrow-loss)"')).toBe(4);
    expect(count(chart, 'class="chart-gain"')).toBe(1);
    expect(count(chart, 'class="chart-total"')).toBe(2);
  });

  test('lets each effect begin where the one before ended', () => {
    const chart = narrow(drawWaterfall(workedExample));
    const bars = [...chart.matchAll(/class="chart-loss"[^>]* x="([\d.]+)"[^>]* width="([\d.]+)"/g)];
    const ends = bars.map(([, x, width]) => ({ left: Number(x), right: Number(x) + Number(width) }));
    for (const [index, bar] of ends.slice(1).entries()) expect(bar.right).toBeCloseTo(ends[index]?.left ?? 0, 0);
  });

  test('shows an effect of nothing as a thin line, and steps that are all zero without dividing by it', () => {
    const chart = drawWaterfall(workedExample.map((step) => ({ ...step, amountMinor: 0 })));
    expect(count(narrow(chart), 'chart-nothing')).toBe(7);
    onlyFigures(chart);
  });

  test('draws a total below zero', () => {
    const chart = drawWaterfall([
      { label: 'Lines', amountMinor: 1500, kind: 'total' },
      { label: 'Charges', amountMinor: -2300, kind: 'effect' },
      { label: 'Paid', amountMinor: -800, kind: 'total' },
    ]);
    expect(chart).not.toMatch(/width="-/);
    onlyFigures(chart);
  });

  test('is a sentence when there are no steps', () => {
    expect(drawWaterfall([])).toContain('There is nothing to draw yet.');
  });

  test('names its hatching after the chart and the drawing, so that no two on a page are the same', () => {
    const page = drawWaterfall(workedExample) + drawWaterfall(workedExample, { id: 'ticket-2' });
    const ids = [...page.matchAll(/\sid="([^"]*)"/g)].map((match) => match[1]);
    expect(ids.length).toBe(12);
    expect(new Set(ids).size).toBe(12);
  });
});

describe('all charts', () => {
  const typed = '<b onclick="x">&';
  const waterfallOfTyped = drawWaterfall([{ label: typed, note: typed, amountMinor: 1, kind: 'total' }], {
    id: typed,
    title: typed,
    description: typed,
  });
  const lineOfTyped = drawLine([], {
    title: typed,
    description: typed,
    yLabel: typed,
    series: [{ name: typed, mark: 'circle', points: [{ x: typed, y: '1' }] }],
    limits: [{ value: '2', label: typed }],
    marks: [{ x: typed, label: typed }],
    band: { low: [{ x: typed, y: '0' }], high: [{ x: typed, y: '3' }], label: typed },
  });
  const intervalsOfTyped = drawIntervals([], {
    title: typed,
    description: typed,
    xLabel: typed,
    rows: [{ label: typed, note: typed, point: '1', low: '0', high: '2', text: typed }],
    reference: { value: '1', label: typed },
  });
  const intervals = drawIntervals([['99', '98', '100'], ['99']]);

  test('escape what was typed', () => {
    for (const chart of [waterfallOfTyped, lineOfTyped, intervalsOfTyped]) {
      expect(chart).not.toContain('<b');
      expect(chart).toContain('&lt;b');
    }
  });

  test('write no style that the content security policy would block', () => {
    for (const chart of [
      waterfallOfTyped,
      lineOfTyped,
      intervalsOfTyped,
      drawWaterfall(workedExample),
      drawLine(['1', null, '2']),
    ]) {
      expect(chart).not.toMatch(/\sstyle=|<style/);
    }
  });

  test('have a name and a description that their drawings point to', () => {
    for (const chart of [drawWaterfall(workedExample), drawLine(['1', '2']), intervals]) {
      for (const [, ids = ''] of chart.matchAll(/aria-labelledby="([^"]*)"/g)) {
        for (const id of ids.split(' ')) expect(chart).toContain(` id="${id}"`);
      }
    }
  });
});
