import fc from 'fast-check';
import { beforeEach, describe, expect, test } from 'vitest';
import { recordSample, removeWireKind, saveWireKind, undoSample } from '../../server/bench/acts.ts';
import { readGauge, writeGauge } from '../../server/bench/conductor.ts';
import { listWireKinds, samplesOfKind } from '../../server/bench/queries.ts';
import { whatSamplesSay } from '../../server/bench/recovery.ts';
import {
  breakEvenBarePrice,
  breakEvenRecovery,
  gainPerWeight,
  recoveryOfSamples,
  stripOrSell,
} from '../../server/bench/strip-or-sell.ts';
import { recordStripping, type StrippingInput } from '../../server/bench/stripping.ts';
import { readWireQuestion } from '../../server/bench/wire-question.ts';
import { checkLedger } from '../../server/check/checks.ts';
import type { Ledger } from '../../server/context.ts';
import { putBack } from '../../server/history/acts.ts';
import { recordBinTransfer, undoBinDocument } from '../../server/ledger/acts.ts';
import { balanceOf, soleAccount } from '../../server/ledger/queries.ts';
import { recordQuote } from '../../server/prices/acts.ts';
import { Refusal } from '../../server/refusal.ts';
import { weighingsInBook } from '../../server/scales/book-weight.ts';
import { removeGrade } from '../../server/setup/removals.ts';
import { day } from '../../server/units/day.ts';
import { Decimal } from '../../server/units/decimal.ts';
import { massUg } from '../../server/units/mass.ts';
import { binId, gradeId, lb, massIn, newLedger, setUpWorkedExample, weighIn } from '../helper.ts';

const price = fc.integer({ min: 0, max: 2000 }).map((cents) => new Decimal(cents).div(100));
const someRecovery = fc.integer({ min: 1, max: 1000 }).map((parts) => new Decimal(parts).div(1000));
const someTerms = fc.record({ bare: price, insulated: price, waste: price, labour: price });
const NEARLY_NOTHING = '1e-30';

describe('strip or sell', () => {
  test('the gain is nothing at the break-even recovery', () => {
    fc.assert(
      fc.property(someTerms, (terms) => {
        const even = breakEvenRecovery(terms);
        if (even === null) expect(terms.bare.plus(terms.waste).isZero()).toBe(true);
        else expect(gainPerWeight(even, terms).abs().lt(NEARLY_NOTHING)).toBe(true);
      }),
    );
  });

  test('the gain is nothing at the break-even price of the metal', () => {
    fc.assert(
      fc.property(someTerms, someRecovery, (terms, recovery) => {
        const bare = breakEvenBarePrice(recovery, terms) as Decimal;
        expect(
          gainPerWeight(recovery, { ...terms, bare })
            .abs()
            .lt(NEARLY_NOTHING),
        ).toBe(true);
      }),
    );
    expect(breakEvenBarePrice(new Decimal(0), { bare: d(1), insulated: d(1), waste: d(0), labour: d(0) })).toBeNull();
  });

  test('it is to be stripped exactly when the recovery is above the break-even', () => {
    fc.assert(
      fc.property(someTerms, someRecovery, (terms, ratio) => {
        const even = breakEvenRecovery(terms);
        fc.pre(even?.minus(ratio).abs().gt(NEARLY_NOTHING) === true);
        expect(stripOrSell({ ratio, range: null }, terms, null).advice === 'strip').toBe(ratio.gt(even as Decimal));
      }),
    );
  });

  test('a recovery from samples lies between 0 and 1, and so does its interval', () => {
    const sample = fc.tuple(fc.integer({ min: 1, max: 1e9 }), fc.integer({ min: 0, max: 1000 }));
    fc.assert(
      fc.property(fc.array(sample, { minLength: 1, maxLength: 12 }), (samples) => {
        const rows = samples.map(([before, parts]) => ({
          is_undone: 0,
          before_ug: massUg(before),
          after_ug: massUg(Math.floor((before * parts) / 1000)),
          seconds: null,
        }));
        const said = whatSamplesSay(rows as never);
        const { ratio, range } = recoveryOfSamples(said.recovery as never);
        for (const share of [ratio, ...(range === null ? [] : [range.low, range.high])]) {
          expect(share.gte(0) && share.lte(1)).toBe(true);
        }
        expect(range === null || (range.low.lte(ratio) && range.high.gte(ratio))).toBe(true);
      }),
    );
  });

  test('a range with the break-even within it settles nothing', () => {
    const terms = { bare: d(3), insulated: d('1.2'), waste: d(0), labour: d(0) };
    const settled = (low: string, high: string) =>
      stripOrSell({ ratio: d('0.45'), range: { low: d(low), high: d(high) } }, terms, null).isSettled;
    expect([settled('0.35', '0.5'), settled('0.41', '0.5'), settled('0.4', '0.5')]).toEqual([false, true, false]);
  });
});

const d = (text: string | number) => new Decimal(text);

describe('gauges', () => {
  test.each([
    ['14', 14],
    ['1/0', 0],
    ['4/0', -3],
    ['0000', -3],
    ['0', 0],
    ['#12', 12],
    ['12 AWG', 12],
    ['40', 40],
  ])('%s is read', (typed, gauge) => {
    expect(readGauge(typed)).toEqual({ ok: true, value: gauge });
  });

  test.each(['99', '41', '5/0', '0/0', '-3', '', 'thick', '14.5', '00000'])('“%s” is refused', (typed) => {
    expect(readGauge(typed).ok).toBe(false);
  });

  test('99 is told where the gauges begin and end', () => {
    expect(readGauge('99')).toEqual({ ok: false, refusal: 'There is no such gauge. AWG runs from 4/0 to 40.' });
  });

  test('are written as on cable', () => {
    expect([-3, 0, 1, 14].map(writeGauge)).toEqual(['4/0', '1/0', '1', '14']);
  });
});

let ledger: Ledger;
let kindId: number;
let yardId: number;
beforeEach(() => {
  ledger = newLedger();
  yardId = setUpWorkedExample(ledger).yardId;
  kindId = saveWireKind(ledger, null, aKind());
});

const WIRE = 'Insulated wire, low recovery';
const aKind = (name = 'flat cord') => ({
  name,
  grade_id: gradeId(ledger, WIRE),
  bare_grade_id: gradeId(ledger, 'No. 2 copper'),
  note: '',
});

const sample = (before: string, after: string, seconds: number | null = null): number =>
  recordSample(ledger, {
    wireKindId: kindId,
    beforeTyped: before,
    afterTyped: after,
    unit: 'lb',
    beforeUg: lb(before),
    afterUg: lb(after),
    seconds,
    sampledOn: day('2025-03-10'),
    note: '',
    strippingId: null,
  });

const lot = (before: string, after: string, more: Partial<StrippingInput> = {}): number =>
  recordStripping(ledger, {
    fromBinId: binId(ledger, 'WLO'),
    toBinId: binId(ledger, 'CU2'),
    beforeTyped: before,
    afterTyped: after,
    unit: 'lb',
    beforeUg: lb(before),
    afterUg: lb(after),
    seconds: 1800,
    occurredOn: day('2025-03-10'),
    note: 'cords of fans',
    bookShortfall: false,
    sampleOf: null,
    ...more,
  });

function refusalOf(act: () => unknown): [code: string, field: string] {
  try {
    act();
  } catch (error) {
    if (error instanceof Refusal) return [error.code, error.field];
    throw error;
  }
  return ['none', ''];
}
const faults = () => checkLedger(ledger).filter(({ found }) => found.length > 0);
const newestEvent = () =>
  ledger.db.sqlite.prepare('select id, act from event order by id desc limit 1').get() as { id: number; act: string };

describe('samples', () => {
  test('are summed up as a ratio of sums, with what was stripped in an hour', () => {
    sample('1', '0.4', 600);
    sample('3', '1.5', 1200);
    sample('2', '0.9');
    const said = whatSamplesSay(samplesOfKind(ledger.db, kindId));
    expect(said.recovery?.ratio).toBeCloseTo(2.8 / 6, 9);
    expect(said.recovery?.interval).not.toBeNull();
    expect([said.count, said.timed]).toEqual([3, 2]);
    // 4 lb in half an hour.
    expect((said.ugPerHour ?? 0) / lb('8')).toBeCloseTo(1, 6);
  });

  test('fewer than three have no interval', () => {
    sample('1', '0.4');
    sample('1', '0.5');
    const { recovery } = whatSamplesSay(samplesOfKind(ledger.db, kindId));
    expect([recovery?.interval, recovery?.noInterval]).toEqual([null, 'few']);
  });

  test('one that was taken back counts no more, and is taken back once', () => {
    const id = sample('1', '0.4');
    undoSample(ledger, id);
    expect(whatSamplesSay(samplesOfKind(ledger.db, kindId)).count).toBe(0);
    expect(refusalOf(() => undoSample(ledger, id))).toEqual(['already_undone', '']);
  });

  test('the metal may not weigh more than the wire, and the day may not lie ahead', () => {
    expect(refusalOf(() => sample('1', '1.1'))).toEqual(['net_not_positive', 'after']);
  });
});

describe('kinds of wire', () => {
  test('one with a sample stays, one without goes and comes back from the trail', () => {
    sample('1', '0.4');
    expect(refusalOf(() => removeWireKind(ledger, kindId))[0]).toBe('in_use');
    const spare = saveWireKind(ledger, null, aKind('spare'));
    removeWireKind(ledger, spare);
    putBack(ledger, newestEvent().id);
    expect(listWireKinds(ledger.db).map(({ name }) => name)).toEqual(['flat cord', 'spare']);
  });

  test('a change is put back, and its name is its own', () => {
    saveWireKind(ledger, kindId, { ...aKind('round cord'), bare_grade_id: gradeId(ledger, 'Light copper') });
    putBack(ledger, newestEvent().id);
    expect(listWireKinds(ledger.db)[0]).toMatchObject({ name: 'flat cord', bare_grade_name: 'No. 2 copper' });
    expect(refusalOf(() => saveWireKind(ledger, null, aKind('FLAT CORD')))).toEqual(['name_taken', 'name']);
  });

  test('a grade that a kind of wire has stays', () => {
    saveWireKind(ledger, kindId, { ...aKind(), bare_grade_id: gradeId(ledger, 'Light copper') });
    expect(refusalOf(() => removeGrade(ledger, gradeId(ledger, 'Light copper')))[0]).toBe('in_use');
  });
});

describe('stripping a lot', () => {
  test('takes the wire out, puts the metal in, and the rest is waste', () => {
    weighIn(ledger, 'WLO', '10');
    lot('6', '2.4');
    expect([massIn(ledger, 'WLO'), massIn(ledger, 'CU2')]).toEqual([lb('4'), lb('2.4')]);
    const waste = balanceOf(ledger.db, soleAccount(ledger.db, 'waste'), gradeId(ledger, WIRE));
    expect(waste).toBe(lb('6') - lb('2.4'));
    expect(faults()).toEqual([]);
  });

  test('is taken back whole, and its sample with it', () => {
    weighIn(ledger, 'WLO', '10');
    const id = lot('6', '2.4', { sampleOf: kindId });
    expect(samplesOfKind(ledger.db, kindId).map(({ is_undone }) => is_undone)).toEqual([0]);
    undoBinDocument(ledger, 'stripping', id);
    expect([massIn(ledger, 'WLO'), massIn(ledger, 'CU2')]).toEqual([lb('10'), 0]);
    expect(samplesOfKind(ledger.db, kindId).map(({ is_undone }) => is_undone)).toEqual([1]);
    expect(refusalOf(() => undoBinDocument(ledger, 'stripping', id))[0]).toBe('already_undone');
    expect(newestEvent().act).toBe('took back a stripping');
    expect(faults()).toEqual([]);
  });

  test('is not taken back once its metal has left the bin', () => {
    weighIn(ledger, 'WLO', '10');
    const id = lot('6', '2.4');
    recordBinTransfer(ledger, {
      fromBinId: binId(ledger, 'CU2'),
      toBinId: binId(ledger, 'YB1'),
      netTyped: '1',
      unit: 'lb',
      netUg: lb('1'),
      occurredOn: day('2025-03-11'),
      note: '',
      bookShortfall: false,
    });
    expect(refusalOf(() => undoBinDocument(ledger, 'stripping', id))[0]).toBe('bin_below_zero');
  });

  test('asks before more is stripped than the book has, and books the difference then', () => {
    weighIn(ledger, 'WLO', '5');
    expect(refusalOf(() => lot('6', '2.4'))).toEqual(['bin_below_zero', 'before']);
    const id = lot('6', '2.4', { bookShortfall: true });
    expect(massIn(ledger, 'WLO')).toBe(0);
    expect(faults()).toEqual([]);
    undoBinDocument(ledger, 'stripping', id);
    expect(massIn(ledger, 'WLO')).toBe(lb('5'));
    expect(faults()).toEqual([]);
  });

  test('refuses the same bin, the same grade, more metal than wire, and a day to come', () => {
    weighIn(ledger, 'WLO', '10');
    weighIn(ledger, 'YB1', '10');
    expect(refusalOf(() => lot('6', '2', { toBinId: binId(ledger, 'WLO') }))).toEqual(['same_bin', 'toBin']);
    const brass = { fromBinId: binId(ledger, 'YB1'), toBinId: binId(ledger, 'YB2') };
    expect(refusalOf(() => lot('6', '2', brass))).toEqual(['same_bin', 'toBin']);
    expect(refusalOf(() => lot('2', '6'))).toEqual(['net_not_positive', 'after']);
    expect(refusalOf(() => lot('6', '2', { occurredOn: day('2025-04-01') }))[0]).toBe('day_in_future');
  });

  test('a book weight rests on what was weighed: the wire once, the metal once', () => {
    weighIn(ledger, 'WLO', '10');
    lot('6', '2.4');
    const grosses = (code: string) =>
      weighingsInBook(ledger, { binId: binId(ledger, code), before: null, bookUg: massUg(massIn(ledger, code)) }).map(
        ({ sign, gross_ug }) => [sign, gross_ug],
      );
    expect(grosses('WLO')).toEqual([
      [-1, lb('6')],
      [1, lb('10')],
    ]);
    expect(grosses('CU2')).toEqual([[1, lb('2.4')]]);
  });
});

describe('the question', () => {
  const ask = (typed: Record<string, string>) => readWireQuestion(ledger, typed);

  test('prices come from the best quotes, and typed ones win', () => {
    for (const [grade, digits] of [
      [WIRE, '1.10'],
      ['No. 2 copper', '3.60'],
    ] as const) {
      const quote = { yardId, gradeId: gradeId(ledger, grade), price: digits, per: 'lb', seenWhere: '' } as const;
      recordQuote(ledger, { ...quote, seenOn: day('2025-03-01') });
    }
    sample('1', '0.4', 600);
    const quoted = ask({ kind: String(kindId) });
    expect(quoted.answer?.verdict.gain.toString()).toBe('0.34');
    expect(quoted.insulated?.quote?.yardName).toBe('Demo Yard North');
    // 6 lb an hour.
    expect(quoted.answer?.verdict.perHour?.toDecimalPlaces(6).toString()).toBe('2.04');
    const typed = ask({ kind: String(kindId), insulated: '3000', insulatedPer: 'net ton', waste: '0.05' });
    expect(typed.answer?.verdict.gain.toString()).toBe('-0.09');
    expect([typed.answer?.verdict.advice, typed.insulated?.quote]).toEqual(['sell', null]);
  });

  test('what is missing is named, and nothing is guessed', () => {
    expect(ask({}).missing).toEqual([]);
    const { answer, missing } = ask({ kind: String(kindId), wage: '15' });
    expect(answer).toBeNull();
    expect(missing).toEqual([
      'What the wire is paid as it is. No yard has quoted Insulated wire, low recovery by weight yet.',
      'What its bare metal is paid. No yard has quoted No. 2 copper by weight yet.',
      'How much of it is metal: by samples, by the conductor, or a figure.',
      'How much you strip in an hour, or samples with their minutes, so that your time can be counted.',
    ]);
  });

  const CONDUCTOR = {
    insulated: '1',
    bare: '3',
    by: 'conductor',
    size: '14',
    conductors: '2',
    length: '100',
    piece: '5',
  };

  test('a conductor gives the recovery: 2.486 lb of copper in 5 lb', () => {
    const { answer } = ask(CONDUCTOR);
    expect(answer?.found.recovery.ratio.toDecimalPlaces(3).toString()).toBe('0.497');
    expect(answer?.found.recovery.range).toBeNull();
  });

  test('a size in mm² gives a range', () => {
    const metric = {
      ...CONDUCTOR,
      size: '2.5',
      sizeUnit: 'mm²',
      lengthUnit: 'm',
      length: '10',
      piece: '900',
      pieceUnit: 'g',
    };
    const { range } = ask(metric).answer?.found.recovery ?? {};
    expect([range?.low.toDecimalPlaces(3).toString(), range?.high.toDecimalPlaces(3).toString()]).toEqual([
      '0.459',
      '0.494',
    ]);
  });

  test.each([
    [{ piece: '2' }, 'piece', 'This is more copper than the piece weighs: check length, gauge and weight.'],
    [{ size: '99' }, 'size', 'There is no such gauge. AWG runs from 4/0 to 40.'],
    [{ conductors: '0' }, 'conductors', 'Enter a whole number of conductors from 1 to 1000.'],
    [{ length: '0' }, 'length', 'The length has to be above zero.'],
    [{ length: '-1' }, 'length', 'cannot be negative'],
    [{ by: 'figure', recovery: '101' }, 'recovery', 'at most 100 %'],
    [{ by: 'figure', recovery: '0' }, 'recovery', 'more than 0 %'],
    [{ kind: '99' }, 'kind', 'Choose a kind of wire from the list.'],
    [{ size: '0', sizeUnit: 'mm²' }, 'size', 'has to be above zero'],
  ])('%j is refused beside its field', (change, field, sentence) => {
    const { answer, problems } = ask({ ...CONDUCTOR, ...change });
    expect(answer).toBeNull();
    expect(problems[field]).toContain(sentence);
  });
});
