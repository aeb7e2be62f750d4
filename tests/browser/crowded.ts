import type { Ledger } from '../../server/context.ts';
import { findBinByCode } from '../../server/ledger/queries.ts';
import { draftManifest } from '../../server/manifests/acts.ts';
import { loadManifest } from '../../server/manifests/loading.ts';
import { loadsOf } from '../../server/manifests/queries.ts';
import { amountMinor } from '../../server/money/money.ts';
import { recordQuote } from '../../server/prices/acts.ts';
import {
  addBin,
  addGrades,
  changeSettings,
  nameGradesAtYard,
  saveContainer,
  saveYard,
} from '../../server/setup/acts.ts';
import { findGradeByName } from '../../server/setup/queries.ts';
import { recordTicket } from '../../server/tickets/acts.ts';
import { day } from '../../server/units/day.ts';
import { gradeId, lb, newLedger, weighIn } from '../helper.ts';

// A ledger in which everything is as long and as much as it may be: what paper and small screens have to hold.

export const CROWD = 60;

/** A text of so many letters, in words of usual length. */
export const longText = (letters: number, words = 'a long and patient text about a heap of old metal '): string =>
  words
    .repeat(Math.ceil(letters / words.length))
    .slice(0, letters)
    .trimEnd();

const numbered = (n: number): string => String(n).padStart(2, '0');
export const longCode = (n: number): string => `LONG-CODE-OF-FORTY-LETTERS-AND-DIGITS-${numbered(n)}`;
export const longGrade = (n: number): string =>
  `Grade ${numbered(n)} of ${longText(49, 'mixed and cleaned cuttings of insulated building wire ')}`;
export const LONG_YARD = `Demo Yard ${longText(70, 'of the brothers and sisters at the end of the long road ')}`;
const FIRST_DAY = '2025-03-01';
const LOADED_ON = '2025-03-18';

/** @returns the manifest with sixty loads, and its ticket with as many lines */
export function fillCrowded(): { ledger: Ledger; manifestId: number; ticketId: number } {
  const ledger = newLedger();
  changeSettings(ledger, { ...ledger.settings, decimalMark: ',', currency: 'EUR' });
  const yardId = setUpCrowd(ledger);
  const binIds = Array.from({ length: CROWD }, (_, n) => findBinByCode(ledger.db, longCode(n))?.id ?? 0);
  for (let n = 0; n < CROWD; n += 1)
    weighIn(ledger, longCode(n), '1204.5', FIRST_DAY, { note: longText(n === 0 ? 2000 : 80) });
  for (let n = 0; n < CROWD; n += 1) weighIn(ledger, longCode(0), '3', FIRST_DAY);
  const manifestId = draftManifest(ledger, { yardId, binIds, note: longText(2000) });
  loadManifest(ledger, manifestId, day(LOADED_ON), false);
  return { ledger, manifestId, ticketId: payAll(ledger, yardId, manifestId) };
}

function setUpCrowd(ledger: Ledger): number {
  const grades = Array.from({ length: CROWD }, (_, n) => ({
    name: longGrade(n),
    family: 'insulated wire' as const,
    quoted_per: 'lb' as const,
    code: '',
    recognise: longText(500),
    spoiled_by: '',
    fallsBackTo: null,
  }));
  addGrades(ledger, grades);
  const containerId = saveContainer(ledger, null, {
    name: longText(80),
    tare_typed: '2',
    tare_ug: lb('2'),
  });
  const yardId = saveYard(ledger, null, {
    name: LONG_YARD,
    unit: 'lb',
    cash_step_minor: amountMinor(5),
    scale_division: '0.5',
    scale_class: 'III',
    notes: longText(2000),
  });
  for (let n = 0; n < CROWD; n += 1) {
    const id = findGradeByName(ledger.db, longGrade(n))?.id ?? 0;
    addBin(ledger, {
      code: longCode(n),
      grade_id: id,
      place: longText(80),
      container_id: containerId,
      full_mark_typed: '',
      full_mark_ug: null,
      opened_on: day('2025-01-01'),
      closed_on: null,
    });
    recordQuote(ledger, {
      yardId,
      gradeId: id,
      price: '3.6',
      per: 'lb',
      seenOn: day(FIRST_DAY),
      seenWhere: longText(80),
    });
  }
  nameGradesAtYard(ledger, yardId, new Map(grades.map(({ name }) => [gradeId(ledger, name), longText(80)])));
  return yardId;
}

function payAll(ledger: Ledger, yardId: number, manifestId: number): number {
  const lines = loadsOf(ledger.db, manifestId).map((load, at) => ({
    lineNo: at + 1,
    description: longText(80),
    gradeId: load.grade_id,
    loadIds: [load.id],
    gross: '1200',
    tare: '0',
    deduction: '12',
    net: '1188',
    unit: 'lb' as const,
    price: '3.4',
    per: 'lb' as const,
    amountMinor: amountMinor(403_920),
  }));
  const totals = {
    chargesMinor: amountMinor(1000),
    taxMinor: amountMinor(0),
    cashRoundingMinor: amountMinor(0),
    totalMinor: amountMinor(403_920 * lines.length - 1000),
    paidBy: 'cash' as const,
  };
  return recordTicket(ledger, {
    yardId,
    manifestId,
    number: 'T'.repeat(40),
    soldOn: day('2025-03-19'),
    note: longText(2000),
    lines,
    totals,
  });
}
