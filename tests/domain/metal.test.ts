import fc from 'fast-check';
import { beforeEach, describe, expect, test } from 'vitest';
import { densityOf, divisionsNeeded, matchesOf, TELLING, toCelsius } from '../../server/bench/density.ts';
import { readMetalQuestion } from '../../server/bench/metal-question.ts';
import type { Ledger } from '../../server/context.ts';
import { newBenchScale, newLedger } from '../helper.ts';

let ledger: Ledger;
beforeEach(() => {
  ledger = newLedger();
});
const ask = (typed: Record<string, string>) => readMetalQuestion(ledger, { unit: 'g', ...typed });

const WATER_20 = 0.99820675;

describe('the uncertainty of a density', () => {
  // GUM F.2.2.1 and 5.1.2 (from memory), worked out by hand: ρ = w·m/(m − s).
  test('comes from both readings', () => {
    const { gramsPerCm3, standard } = densityOf({
      dry: 850,
      submerged: 750,
      celsius: 20,
      doubt: { division: 1, dryTolerance: null, wetTolerance: null },
    });
    expect(gramsPerCm3).toBeCloseTo(WATER_20 * 8.5, 4);
    expect(standard).toBeCloseTo((WATER_20 / Math.sqrt(12) / 100 ** 2) * Math.hypot(850, 750), 6);
  });

  test('a tolerance makes it larger, never smaller', () => {
    const some = fc.record({
      dry: fc.integer({ min: 10, max: 5000 }),
      share: fc.double({ min: 0.1, max: 0.95, noNaN: true }),
    });
    fc.assert(
      fc.property(some, ({ dry, share }) => {
        const at = (tolerance: number | null) =>
          densityOf({
            dry,
            submerged: dry * share,
            celsius: 20,
            doubt: { division: 1, dryTolerance: tolerance, wetTolerance: tolerance },
          }).standard ?? 0;
        expect(at(1)).toBeGreaterThan(at(null));
      }),
    );
  });

  test('so many divisions as are asked for are enough, and one in ten less is not', () => {
    for (const density of [2.7, 7.85, 11.34]) {
      const submergedShare = 1 - WATER_20 / density;
      const needed = divisionsNeeded({ dry: 1, submerged: submergedShare });
      const relative = (divisions: number) => {
        const dry = divisions / (1 - submergedShare);
        const doubt = { division: 1, dryTolerance: null, wetTolerance: null };
        const found = densityOf({ dry, submerged: dry - divisions, celsius: 20, doubt });
        return (2 * (found.standard ?? 0)) / found.gramsPerCm3;
      };
      expect(relative(needed)).toBeLessThanOrEqual(TELLING);
      expect(relative(needed * 0.9)).toBeGreaterThan(TELLING);
    }
  });

  test('everything within twice of it is a candidate, and nothing else', () => {
    const { candidates, nearest } = matchesOf({ gramsPerCm3: 8.5, standard: 0.015 });
    expect(candidates.map(({ name }) => name)).toContain('cartridge brass C26000 (70/30)');
    expect(candidates.map(({ name }) => name)).not.toContain('Muntz metal C28000');
    expect(nearest).toHaveLength(3);
  });

  test('without a division nothing is a candidate, and the nearest are named', () => {
    const { candidates, nearest } = matchesOf({ gramsPerCm3: 8.5, standard: null });
    expect([candidates.length, nearest.length]).toEqual([0, 3]);
  });
});

describe('the question', () => {
  test('a scale of the ledger brings its unit, its step and its tolerance', () => {
    const scale = String(newBenchScale(ledger));
    const { answer } = readMetalQuestion(ledger, { dry: '8.5', submerged: '7.5', scale });
    expect([answer?.unit, answer?.hasTolerance]).toEqual(['lb', true]);
    expect(answer?.density.displacedDivisions).toBeCloseTo(20, 6);
    const stepAlone = readMetalQuestion(ledger, { dry: '8.5', submerged: '7.5', division: '0.05' }).answer;
    expect(answer?.density.standard ?? 0).toBeGreaterThan(stepAlone?.density.standard ?? 0);
  });

  test('the water is at 20 °C unless it is said, in either degrees', () => {
    const densityAt = (temperature: string, temperatureUnit = '') =>
      ask({ dry: '850', submerged: '750', temperature, temperatureUnit }).answer?.density.gramsPerCm3;
    expect(densityAt('')).toBe(densityAt('20'));
    expect(densityAt('68', '°F')).toBeCloseTo(densityAt('20') ?? 0, 9);
    expect(densityAt('68F')).toBeCloseTo(densityAt('20') ?? 0, 9);
    expect(toCelsius(104)).toBe(40);
  });

  test.each([
    [{ dry: '750', submerged: '850' }, 'submerged', 'It weighs more in water than dry: swap the figures?'],
    [{ dry: '850', submerged: '850' }, 'submerged', 'Both weights are the same'],
    [{ dry: '850', submerged: '0' }, 'submerged', 'It weighs nothing in the water'],
    [{ dry: '0', submerged: '0' }, 'dry', 'dry weight'],
    [{ dry: '-1' }, 'dry', 'cannot be negative'],
    [{ temperature: '41' }, 'temperature', 'from 0 to 40 °C'],
    [{ temperature: '-1' }, 'temperature', 'from 0 to 40 °C'],
    [{ temperature: '31', temperatureUnit: '°F' }, 'temperature', 'from 0 to 40 °C'],
    [{ temperature: 'warm' }, 'temperature', 'has to be a number'],
    [{ division: '0' }, 'division', ''],
    [{ scale: '77' }, 'scale', 'Choose a scale from the list.'],
    [{ unit: 'stone' }, 'unit', 'Choose a unit of weight'],
  ])('%j is refused beside its field', (change, field, sentence) => {
    const { answer, problems } = ask({ dry: '850', submerged: '750', ...change });
    expect(answer).toBeNull();
    expect(problems[field] ?? 'no sentence').not.toBe('no sentence');
    expect(problems[field]).toContain(sentence);
  });

  test('nothing asked, nothing answered', () => {
    expect(readMetalQuestion(ledger, {})).toMatchObject({ answer: null, problems: {} });
  });
});
