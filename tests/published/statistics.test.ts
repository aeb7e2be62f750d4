import { readFileSync } from 'node:fs';
import { describe, expect, test } from 'vitest';
import { tabularCusum } from '../../server/statistics/cusum.ts';
import { ewma } from '../../server/statistics/ewma.ts';
import { type RatioEstimate, ratioFromSums, ratioOf } from '../../server/statistics/ratio.ts';
import { studentQuantile } from '../../server/statistics/student.ts';
import { mean, standardDeviation } from '../../server/statistics/summary.ts';
import {
  combinedUncertainty,
  resolutionUncertainty,
  toleranceUncertainty,
  type UncertaintyTerm,
} from '../../server/statistics/uncertainty.ts';

/*
 * The small statistics against the outside. The figures, their sources and how each was come by ("looked up", "from
 * memory", "by calculation") stand in the JSON files beside this one; every check repeats the source in short. The
 * certified straight-line fits of NIST (Norris, NoInt1, NoInt2) are not used, because Tarebook fits no line; of NoInt1
 * only the data are, for the ratio of totals.
 */
interface Reference<T> {
  examples: (T & { name: string })[];
}

const read = <T>(file: string): T => JSON.parse(readFileSync(new URL(file, import.meta.url), 'utf8')) as T;

function named<T extends { name: string }>(rows: readonly T[], name: string): T {
  const row = rows.find((each) => each.name === name);
  if (row === undefined) throw new Error(`no example ${name}`);
  return row;
}

/** The number, or a test that fails: for figures that cannot be missing here. */
function present<T>(value: T | null | undefined): T {
  if (value === null || value === undefined) throw new Error('a figure is missing');
  return value;
}

/** Terms that move on their own. */
const apart = (terms: readonly number[]): UncertaintyTerm[] => terms.map((standard) => ({ standard, cause: null }));

/**
 * Partly correlated terms as sums over causes that do not move together: the lower triangle of Cholesky's factor of the
 * correlations gives how much of each cause is in each term.
 */
function overCauses(terms: readonly number[], correlation: (i: number, j: number) => number): UncertaintyTerm[] {
  const factor: number[][] = [];
  for (const [i] of terms.entries()) {
    const row: number[] = [];
    for (let j = 0; j <= i; j += 1) {
      const known = row.reduce((sum, each, k) => sum + each * ((j === i ? row[k] : factor[j]?.[k]) ?? 0), 0);
      const rest = (i === j ? 1 : correlation(j, i)) - known;
      row.push(i === j ? Math.sqrt(rest) : rest / present(factor[j]?.[j]));
    }
    factor.push(row);
  }
  return terms.flatMap((term, i) =>
    present(factor[i]).map((part, cause) => ({ standard: term * part, cause: String(cause) })),
  );
}

type Figure = [value: number, uncertainty: number];

interface EndGauge {
  inputs: Record<
    'ls_nm' | 'd_nm' | 'alpha_s_per_C' | 'theta_C' | 'delta_alpha_per_C' | 'delta_theta_C',
    [value: number, uncertainty: number, degreesOfFreedom: number | null]
  >;
  published: { l_nm: number; contributions_nm: number[]; uc_nm: number };
  recalculated: { uc_nm: number; contributions_nm: number[] };
}

interface Impedance {
  observations_V_mA_rad: [number, number, number][];
  published: Record<'r_VI' | 'r_Vphi' | 'r_Iphi', number> & Record<'R_ohm' | 'X_ohm' | 'Z_ohm', Figure>;
  recalculated: { u_means: [number, number, number] } & Record<'R_ohm' | 'X_ohm' | 'Z_ohm', Figure>;
}

describe('uncertainty: JCGM 100:2008 (GUM)', () => {
  const { examples } = read<Reference<unknown>>('uncertainty.json');

  // Source: GUM, Annex H.1, Table H.1. Looked up (public test data quoting it) and recalculated. The guide prints the
  // last contribution as 16.6; it is 16.675 by calculation.
  test('H.1, end gauge: every contribution, and 32 nm combined', () => {
    const { inputs, published, recalculated } = named(examples, 'H.1 end gauge') as { name: string } & EndGauge;
    const [ls, d] = [inputs.ls_nm, inputs.d_nm];
    const [alpha, theta] = [inputs.alpha_s_per_C, inputs.theta_C];
    const [deltaAlpha, deltaTheta] = [inputs.delta_alpha_per_C, inputs.delta_theta_C];
    // l = ls + d − ls (δα θ + αs δθ), its first-order sensitivities times the standard uncertainties of the inputs.
    const bracket = deltaAlpha[0] * theta[0] + alpha[0] * deltaTheta[0];
    expect(ls[0] + d[0] - ls[0] * bracket).toBe(published.l_nm);
    const terms = [
      (1 - bracket) * ls[1],
      d[1],
      -ls[0] * deltaTheta[0] * alpha[1],
      -ls[0] * deltaAlpha[0] * theta[1],
      -ls[0] * theta[0] * deltaAlpha[1],
      -ls[0] * alpha[0] * deltaTheta[1],
    ];
    for (const [index, term] of terms.entries()) {
      expect(Math.abs(term)).toBeCloseTo(present(recalculated.contributions_nm[index]), 3);
      expect(Math.abs(Math.abs(term) - present(published.contributions_nm[index]))).toBeLessThan(0.1);
    }
    const combined = combinedUncertainty(apart(terms));
    expect(combined).toBeCloseTo(recalculated.uc_nm, 4);
    expect(Math.round(combined)).toBe(published.uc_nm);
  });

  // Source: GUM, Annex H.2, Tables H.2 to H.4. Looked up (public test data quoting them) and recalculated. With the
  // rounded correlations of the table u(R) would come to 0.070; u(X) is printed 0.295 and is 0.2956 by calculation.
  test('H.2, resistance, reactance and impedance from correlated readings', () => {
    const example = named(examples, 'H.2 resistance and reactance (correlated inputs)') as {
      name: string;
    } & Impedance;
    const columns = [0, 1, 2].map((column) =>
      example.observations_V_mA_rad.map((row) => present(row[column]) * (column === 1 ? 1e-3 : 1)),
    );
    const count = example.observations_V_mA_rad.length;
    const means = columns.map((column) => present(mean(column)));
    const deviations = columns.map((column) => present(standardDeviation(column)));
    const uncertainties = deviations.map((deviation) => deviation / Math.sqrt(count));
    for (const [index, uncertainty] of uncertainties.entries()) {
      expect(uncertainty / present(example.recalculated.u_means[index])).toBeCloseTo(1, 4);
    }
    const correlation = (i: number, j: number): number => {
      const products = present(columns[i]).map(
        (value, row) => (value - present(means[i])) * (present(columns[j]?.[row]) - present(means[j])),
      );
      const covariance = products.reduce((sum, product) => sum + product, 0) / (count - 1);
      return covariance / (present(deviations[i]) * present(deviations[j]));
    };
    expect(correlation(0, 1)).toBeCloseTo(example.published.r_VI, 2);
    expect(correlation(0, 2)).toBeCloseTo(example.published.r_Vphi, 2);
    expect(correlation(1, 2)).toBeCloseTo(example.published.r_Iphi, 2);

    const [volts = 0, amperes = 0, phase = 0] = means;
    const ohms = volts / amperes;
    const found = {
      R_ohm: { value: ohms * Math.cos(phase), by: [Math.cos(phase), -Math.cos(phase), -Math.sin(phase)] },
      X_ohm: { value: ohms * Math.sin(phase), by: [Math.sin(phase), -Math.sin(phase), Math.cos(phase)] },
      Z_ohm: { value: ohms, by: [1, -1, 0] },
    };
    for (const name of ['R_ohm', 'X_ohm', 'Z_ohm'] as const) {
      const { value, by } = found[name];
      // R, X and Z change with V by 1/I, with I by −V/I² and with the phase by V/I, each times its cosine or sine.
      const steps = [1 / amperes, volts / amperes ** 2, ohms];
      const terms = by.map((factor, index) => factor * present(steps[index]) * present(uncertainties[index]));
      const combined = combinedUncertainty(overCauses(terms, correlation));
      expect(value).toBeCloseTo(example.recalculated[name][0], 3);
      expect(combined).toBeCloseTo(example.recalculated[name][1], 4);
      expect(Math.abs(value - example.published[name][0])).toBeLessThan(0.001);
      expect(Math.abs(combined - example.published[name][1])).toBeLessThan(0.001);
    }
  });

  // Source: JCGM 101:2008, 9.2, Tables 2 and 3. Looked up (public test data).
  test('four inputs of one unit each combine to two', () => {
    const four = named(examples, 'four unit inputs') as { name: string; published: { uc: number } };
    expect(combinedUncertainty(apart([1, 1, 1, 1]))).toBe(four.published.uc);
    // Rectangular inputs of standard uncertainty 1 have a half-width of √3.
    const rectangular = toleranceUncertainty(Math.sqrt(3));
    expect(combinedUncertainty(apart(Array(4).fill(rectangular)))).toBeCloseTo(four.published.uc, 12);
  });

  // Source: GUM F.2.2.1 (the rule from memory, the guide prints 0.29 of a step), the figures by calculation.
  test('a scale that shows steps of 0.1 lb: 0.0289 lb a reading, 0.0408 lb gross less tare', () => {
    const reading = resolutionUncertainty(0.1);
    expect(reading).toBeCloseTo(0.0289, 4);
    expect(combinedUncertainty(apart([reading, -reading]))).toBeCloseTo(0.0408, 4);
  });

  // Source: GUM 5.2.2, the note to equation (13) on inputs that all go together. From memory; by calculation.
  test('n weighings with one error in common: n times its uncertainty, not √n times', () => {
    const one = toleranceUncertainty(0.1);
    for (const n of [1, 2, 7, 30]) {
      const terms: number[] = Array(n).fill(one);
      const oneCause = terms.map((standard) => ({ standard, cause: 'the scale' }));
      expect(combinedUncertainty(oneCause)).toBeCloseTo(n * one, 12);
      expect(combinedUncertainty(apart(terms))).toBeCloseTo(Math.sqrt(n) * one, 12);
    }
  });
});

interface Univariate {
  name: string;
  n: number;
  certified: { mean: string; sample_sd_n_minus_1: string };
  data?: string[];
  data_rule?: { first: string; then_pairs: string[]; pairs: number };
}

/** How many leading digits agree: the base-10 logarithm of the relative error, as NIST counts them. */
const correctDigits = (computed: number, certified: number): number =>
  computed === certified ? 15 : Math.min(15, -Math.log10(Math.abs(computed - certified) / Math.abs(certified)));

// Source: NIST Statistical Reference Datasets, univariate summary statistics. Data and certified values looked up (as
// two or more public test suites give them) and confirmed in 60-digit arithmetic. Reached: the mean to every digit of a
// double in all seven; the deviation to 15 (Lew), 13 (Mavro), 13.8 (Michelso), 15 (NumAcc1), 14 (NumAcc2), 9.4
// (NumAcc3) and 8.2 digits (NumAcc4). The last two lose theirs before any arithmetic: 10000000.3 as a double is off by
// up to 1e-9, which is 1e-8 of a deviation of 0.1.
describe('mean and standard deviation: NIST StRD', () => {
  const { univariate } = read<{ univariate: Univariate[] }>('nist-strd.json');
  const DIGITS: Record<string, number> = {
    Lew: 15,
    Mavro: 13,
    Michelso: 13.5,
    NumAcc1: 15,
    NumAcc2: 14,
    NumAcc3: 9.4,
    NumAcc4: 8.2,
  };

  test.each(univariate)('$name', ({ name, n, certified, data, data_rule: rule }) => {
    const pairs = rule === undefined ? [] : Array.from({ length: rule.pairs }, () => rule.then_pairs).flat();
    const values = (data ?? [present(rule).first, ...pairs]).map(Number);
    expect(values).toHaveLength(n);
    expect(correctDigits(present(mean(values)), Number(certified.mean))).toBe(15);
    const digits = correctDigits(present(standardDeviation(values)), Number(certified.sample_sd_n_minus_1));
    expect(digits).toBeGreaterThanOrEqual(present(DIGITS[name]));
  });
});

interface Concentrations {
  data: number[];
  target: number;
  K: number;
  H: number;
  published_upper: number[];
  published_lower: number[];
  published_n_upper: number[];
  published_n_lower: number[];
}

interface CusumOfMeans {
  data: number[];
  target: number;
  k: number;
  h: number;
  calculated_upper: number[];
  calculated_lower: number[];
  published_signals: number[];
}

describe('control charts', () => {
  const { examples } = read<Reference<unknown>>('control-charts.json');

  // Source: Montgomery and Runger, Applied Statistics and Probability for Engineers, 3rd ed., Example 16-6, Tables 16-7
  // and 16-8. Looked up (p. 636), every sum reproduced by calculation.
  describe('tabular CUSUM: chemical process concentration', () => {
    const example = named(examples, 'tabular CUSUM, chemical process concentration') as {
      name: string;
    } & Concentrations;
    const steps = tabularCusum(example.data, {
      target: example.target,
      slack: example.K,
      limit: example.H,
      resets: true,
    });
    // Misprint: row 20 of the book has a run of 0 beside an upper sum of 1.0; by its own rule, and in rows 1, 5, 11, 13
    // and 17, a sum above zero counts at least 1.
    const upperRuns = example.published_n_upper.map((run, index) => (index === 19 ? 1 : run));

    test.each(example.data.map((value, index) => ({ row: index + 1, value })))('row $row, x = $value', ({ row }) => {
      const step = present(steps[row - 1]);
      expect(step.upper).toBeCloseTo(present(example.published_upper[row - 1]), 10);
      expect(step.lower).toBeCloseTo(present(example.published_lower[row - 1]), 10);
      expect([step.upperRun, step.lowerRun]).toEqual([upperRuns[row - 1], example.published_n_lower[row - 1]]);
    });

    test('no signal in its twenty rows', () => {
      expect(steps).toHaveLength(20);
      expect(example.published_n_upper[19]).toBe(0);
      expect(steps.filter((step) => step.signal !== null || step.shiftBegan !== null)).toEqual([]);
    });
  });

  // Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.3. Signals looked up (two public test suites quoting
  // the page), sums by calculation.
  test('CUSUM of twenty means: the first signal at the 14th, and at every one from then on', () => {
    const example = named(examples, 'NIST CUSUM') as { name: string } & CusumOfMeans;
    const rules = { target: example.target, slack: example.k, limit: example.h };
    const steps = tabularCusum(example.data, { ...rules, resets: false });
    for (const [index, step] of steps.entries()) {
      expect(step.upper).toBeCloseTo(present(example.calculated_upper[index]), 10);
      expect(step.lower).toBeCloseTo(present(example.calculated_lower[index]), 10);
    }
    const signals = steps.flatMap((step, index) => (step.signal === null ? [] : [{ at: index + 1, ...step }]));
    expect(signals.map(({ at }) => at)).toEqual(example.published_signals);
    expect(new Set(signals.map(({ signal }) => signal))).toEqual(new Set(['upper']));
    // The upper sum left zero at the 13th, where the means jump from 325 to 328.
    expect(new Set(signals.map(({ shiftBegan }) => shiftBegan))).toEqual(new Set([12]));
    const first = tabularCusum(example.data, { ...rules, resets: true }).findIndex((step) => step.signal !== null);
    expect(first + 1).toBe(example.published_signals[0]);
  });

  // Source: NIST/SEMATECH e-Handbook, 6.3.2.4. Looked up (several public test suites quoting the page), recalculated.
  test('EWMA: the published series to 0.005', () => {
    const example = named(examples, 'NIST EWMA') as {
      name: string;
      data: number[];
      lambda: number;
      start: number;
      published_ewma: number[];
    };
    const series = ewma(example.data, { weight: example.lambda, start: example.start });
    expect(series).toHaveLength(example.published_ewma.length);
    for (const [index, value] of series.entries()) {
      // The page rounds to two decimals; the dust of floating point is given a little beyond half of the last one.
      expect(Math.abs(value - present(example.published_ewma[index]))).toBeLessThanOrEqual(0.005 + 1e-9);
    }
  });
});

interface Timber {
  x: number[];
  y: number[];
  published: { r: number; s_r_squared: number };
  recalculated: { r: number; s_r_squared: number; se_r_sample_mean_x_without_fpc: number };
}

describe('ratio estimator', () => {
  const { examples } = read<Reference<unknown>>('ratio-estimator.json');
  const pairsOf = ({ x, y }: { x: number[]; y: number[] }) =>
    x.map((each, index) => ({ x: each, y: present(y[index]) }));
  const sumsOf = (pairs: readonly { x: number; y: number }[]) => ({
    count: pairs.length,
    x: pairs.reduce((sum, pair) => sum + pair.x, 0),
    y: pairs.reduce((sum, pair) => sum + pair.y, 0),
    xx: pairs.reduce((sum, pair) => sum + pair.x * pair.x, 0),
    xy: pairs.reduce((sum, pair) => sum + pair.x * pair.y, 0),
    yy: pairs.reduce((sum, pair) => sum + pair.y * pair.y, 0),
  });
  const ways: Record<string, (pairs: { x: number; y: number }[]) => RatioEstimate | null> = {
    ratioOf,
    ratioFromSums: (pairs) => ratioFromSums(sumsOf(pairs)),
  };

  // Source: Scheaffer, Mendenhall and Ott, Elementary Survey Sampling, Exercise 6.1, with a published course solution:
  // r and s_r² looked up, all digits recalculated; the standard error with the sample mean of x and without finite
  // population correction, as Tarebook has it, by calculation. t(0.975; 11) = 2.201 (any table).
  test.each(Object.keys(ways))('timber volume by basal area, through %s', (way) => {
    const example = named(examples, 'timber volume by basal area') as { name: string } & Timber;
    const pairs = pairsOf(example);
    const found = present(ways[way]?.(pairs));
    expect(found.count).toBe(12);
    expect(found.ratio).toBeCloseTo(example.recalculated.r, 10);
    expect(found.ratio).toBeCloseTo(example.published.r, 5);
    const { low, high } = present(found.interval);
    expect((low + high) / 2).toBeCloseTo(found.ratio, 12);
    const error = (high - low) / 2 / studentQuantile(0.975, 11);
    expect(error).toBeCloseTo(example.recalculated.se_r_sample_mean_x_without_fpc, 9);
    // s_r² is not given out; it follows from the standard error, √(s_r² / n) / x̄.
    const { count, x } = sumsOf(pairs);
    const spread = (error * (x / count)) ** 2 * count;
    expect(spread).toBeCloseTo(example.recalculated.s_r_squared, 9);
    // The solution cuts 1.750299 off after the fifth decimal.
    expect(Math.floor(spread * 1e5) / 1e5).toBe(example.published.s_r_squared);
  });

  // Source: data of NIST StRD NoInt1 (looked up); the ratio of totals by calculation. The certified slope through the
  // origin, 2.0744, and the mean of ratios, 2.0795, are other estimators and must not come out.
  test.each(Object.keys(ways))('three estimators on NIST NoInt1: the ratio of totals, through %s', (way) => {
    const example = named(examples, 'three estimators on NIST NoInt1') as {
      name: string;
      x: number[];
      y: number[];
      ratio_of_totals: number;
      through_origin_least_squares: number;
      mean_of_ratios: number;
    };
    const found = present(ways[way]?.(pairsOf(example))).ratio;
    expect(found).toBe(example.ratio_of_totals);
    expect(Math.abs(found - example.through_origin_least_squares)).toBeGreaterThan(0.002);
    expect(Math.abs(found - example.mean_of_ratios)).toBeGreaterThan(0.002);
  });
});

// Source: any table of Student's t, such as NIST/SEMATECH e-Handbook, 1.3.6.7.2; 1 to 29 looked up (three reprints of
// such tables agree), 120 from memory.
describe("Student's t, 97.5 %, as every table prints it", () => {
  test.each([
    [1, 12.706],
    [2, 4.303],
    [3, 3.182],
    [4, 2.776],
    [5, 2.571],
    [9, 2.262],
    [10, 2.228],
    [11, 2.201],
    [29, 2.045],
    [120, 1.98],
  ])('%i degrees of freedom: %f', (degreesOfFreedom, printed) => {
    expect(Math.round(studentQuantile(0.975, degreesOfFreedom) * 1000) / 1000).toBe(printed);
    expect(studentQuantile(0.025, degreesOfFreedom)).toBeCloseTo(-studentQuantile(0.975, degreesOfFreedom), 6);
  });
});
