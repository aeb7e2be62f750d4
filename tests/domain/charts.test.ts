import { describe, expect, test } from 'vitest';
import { type LineChart, lineChart } from '../../views/charts/line-chart.ts';
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

/** The drawing for narrow pages; the wide one holds the same at other places. */
const narrow = (chart: string): string => /<svg class="chart-narrow"[\s\S]*?<\/svg>/.exec(chart)?.[0] ?? '';
const count = (text: string, part: string): number => text.split(part).length - 1;
const linePath = (chart: string): string => /chart-line"[^>]*\sd="([^"]*)"/.exec(narrow(chart))?.[1] ?? '';
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
    expect(narrow(chart)).toContain('<title>Realised, 2025-02: 3.50</title>');
  });

  test('marks points that stand alone even where most marks are left out', () => {
    const points = Array.from({ length: 60 }, (_, index) => ({
      x: `m${index}`,
      y: index === 30 || index === 32 ? null : '3.5',
    }));
    const chart = narrow(drawLine([], { series: [{ name: 'Paid', mark: 'circle', points }] }));
    expect(chart).toContain('<title>Paid, m31: 3.50</title>');
    expect(count(chart, 'chart-mark"')).toBeLessThan(40);
  });

  test('draws a single point', () => {
    const chart = drawLine(['3.60']);
    expect(narrow(chart)).toContain('2025-01: 3.60');
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
    const chart = narrow(drawLine([], { series: [{ name: 'North', mark: 'circle', points }] }));
    const marked = [...chart.matchAll(/<title>North, (\w): 3.50<\/title>/g)].map((match) => match[1]);
    expect(marked).toEqual(['a', 'c', 'e']);
  });

  test('leaves marks out where what was seen lies too close', () => {
    const points = Array.from({ length: 200 }, (_, index) => ({ x: `d${index}`, y: '3.5', isSeen: index % 2 === 0 }));
    const chart = narrow(drawLine([], { series: [{ name: 'North', mark: 'circle', points }] }));
    expect(count(chart, 'chart-mark"')).toBeLessThan(30);
    expect(chart).toContain('<title>North, d199: 3.50</title>');
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
    const shapes = [...chart.matchAll(/class="chart-mark[^>]* d="([^"]*)"/g)].map((match) => match[1]);
    expect(new Set(dashes).size).toBe(4);
    expect(new Set(shapes).size).toBe(4);
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

describe('both charts', () => {
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
  });

  test('escape what was typed', () => {
    for (const chart of [waterfallOfTyped, lineOfTyped]) {
      expect(chart).not.toContain('<b');
      expect(chart).toContain('&lt;b');
    }
  });

  test('write no style that the content security policy would block', () => {
    for (const chart of [waterfallOfTyped, lineOfTyped, drawWaterfall(workedExample), drawLine(['1', null, '2'])]) {
      expect(chart).not.toMatch(/\sstyle=|<style/);
    }
  });

  test('have a name and a description that their drawings point to', () => {
    for (const chart of [drawWaterfall(workedExample), drawLine(['1', '2'])]) {
      for (const [, ids = ''] of chart.matchAll(/aria-labelledby="([^"]*)"/g)) {
        for (const id of ids.split(' ')) expect(chart).toContain(` id="${id}"`);
      }
    }
  });
});
