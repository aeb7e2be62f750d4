import type { Ledger } from '../context.ts';
import { build, type Db } from '../db/database.ts';
import type { GradeFamily } from '../ledger/families.ts';
import type { Load } from '../manifests/queries.ts';
import type { ReconciliationGroup } from '../reconciliation/compute.ts';
import { type ReconciledTicket, reconciledTicket } from '../reconciliation/queries.ts';
import { listGrades, listScales, listYardScales, listYards } from '../setup/queries.ts';
import { isStandingTicket, type TicketLine } from '../tickets/queries.ts';
import type { Day } from '../units/day.ts';
import { Decimal } from '../units/decimal.ts';
import { toMassUg } from '../units/mass.ts';
import { weighingsBehind } from './book-weight.ts';
import { type Comparison, type KnownScale, standardised, verdictOn, type Weighing } from './compute.ts';
import { seenOf, standingChecks } from './queries.ts';
import { traitsOf } from './tolerance.ts';

/** Every scale of the ledger with what is known of it: those at home by id, those of a yard by what goes over them. */
export interface KnownScales {
  home(scaleId: number | null): KnownScale | null;
  /** @param gradeId of the material: steel may go over another scale than copper */
  ofYard(yardId: number, gradeId: number): KnownScale | null;
}

export function readKnownScales(db: Db): KnownScales {
  const home = homeScales(db);
  const ofYards = yardScales(db);
  const families = new Map(listGrades(db).map(({ id, family }) => [id, family]));
  return {
    home: (scaleId) => (scaleId === null ? null : (home.get(scaleId) ?? null)),
    ofYard: (yardId, gradeId) => {
      const family = families.get(gradeId);
      const further = family === undefined ? undefined : ofYards.get(`${yardId}|${family}`);
      return further ?? ofYards.get(String(yardId)) ?? null;
    },
  };
}

function homeScales(db: Db): Map<number, KnownScale> {
  const checks = standingChecks(db);
  const known = (scale: ReturnType<typeof listScales>[number]): KnownScale => ({
    key: `home ${scale.id}`,
    name: scale.name,
    ownName: null,
    traits: traitsOf(scale),
    checks: checks.filter((check) => check.scale_id === scale.id).map(seenOf),
  });
  return new Map(listScales(db).map((scale) => [scale.id, known(scale)]));
}

/** By the yard's id alone its usual scale, and by id and family a further scale that the family goes over. */
function yardScales(db: Db): Map<string, KnownScale> {
  const known = new Map<string, KnownScale>();
  const units = new Map(listYards(db).map((yard) => [yard.id, yard]));
  for (const { id, name, unit, scale_division, scale_class } of units.values()) {
    const traits = traitsOf({ unit, division: scale_division, class: scale_class, tolerance: '' });
    known.set(String(id), { key: `yard ${id}`, name, ownName: null, traits, checks: [] });
  }
  for (const { id, yard_id, name, division, class: accuracyClass, families } of listYardScales(db)) {
    const yard = units.get(yard_id);
    if (yard === undefined) continue;
    const traits = traitsOf({ unit: yard.unit, division, class: accuracyClass, tolerance: '' });
    const scale = {
      key: `yard ${yard_id}, scale ${id}`,
      name: `${yard.name}, ${name}`,
      ownName: name,
      traits,
      checks: [],
    };
    for (const family of families as readonly GradeFamily[]) known.set(`${yard_id}|${family}`, scale);
  }
  return known;
}

/** The weighings that a load's weight rests on, each with its scale; see weighingsBehind. */
export const weighingsOfLoad = (ledger: Ledger, scales: KnownScales, load: Load, on: Day): Weighing[] =>
  weighingsBehind(ledger, load, on).map((row) => ({
    side: 'home',
    scale: scales.home(row.scale_id),
    grossUg: row.gross_ug,
    on: row.weighed_on,
    sign: row.sign,
    isEstimate: row.is_estimate === 1,
  }));

/** For each group of a ticket, in order, its comparison; null where there are no two weights to compare. */
export const comparisonsOf = (
  ledger: Ledger,
  scales: KnownScales,
  reconciled: ReconciledTicket,
): (Comparison | null)[] =>
  reconciled.reconciliation.groups.map((group) =>
    group.isOnTicket && group.comparedByWeight ? compareGroup(ledger, scales, reconciled, group) : null,
  );

function compareGroup(
  ledger: Ledger,
  scales: KnownScales,
  { ticket, loads, lines }: ReconciledTicket,
  { loadIds, lineNos, homeUg, yardUg }: ReconciliationGroup,
): Comparison {
  const own = loadIds.flatMap((id) => loads.find((load) => load.id === id) ?? []);
  const ofLoads = own.map((load) => weighingsOfLoad(ledger, scales, load, ticket.loaded_on));
  // Where one load's weighings cannot be told, the others alone say nothing of the sum.
  const home = ofLoads.some((weighings) => weighings.length === 0) ? [] : ofLoads.flat();
  const yard = lines
    .filter((line) => lineNos.includes(line.line_no))
    .map((line) => yardWeighing(scales, ticket.yard_id, ticket.sold_on, line));
  const weighings = home.length === 0 ? [] : [...home, ...yard];
  return {
    ticketId: ticket.id,
    ticketNumber: ticket.number,
    soldOn: ticket.sold_on,
    yardId: ticket.yard_id,
    labels: own.map(({ label }) => label),
    homeUg,
    yardUg,
    homeScale: soleScale(home),
    yardScale: soleScale(yard),
    weighings,
    verdict: verdictOn(homeUg, yardUg, weighings),
    z: standardised(homeUg, yardUg, weighings),
  };
}

function yardWeighing(scales: KnownScales, yardId: number, on: Day, line: TicketLine): Weighing {
  const { gross, unit, grade_id: gradeId } = line;
  const grossUg = unit === 'each' ? 0 : toMassUg({ amount: new Decimal(gross), unit });
  return { side: 'yard', scale: scales.ofYard(yardId, gradeId), grossUg, on, sign: 1, isEstimate: false };
}

function soleScale(weighings: readonly Weighing[]): KnownScale | null {
  const [first] = weighings;
  const isSole = weighings.every(({ scale }) => scale !== null && scale.key === first?.scale?.key);
  return isSole ? (first?.scale ?? null) : null;
}

/** Tickets of one yard that are looked at in one go, the newest of a period: two years of a household's sales. */
const MOST_TICKETS = 40;

/** The comparisons of a yard's standing tickets from one day to before another, oldest first; of the newest forty. */
export function comparisonsAtYard(
  ledger: Ledger,
  scales: KnownScales,
  { yardId, from, until }: { yardId: number; from: Day; until: Day },
): Comparison[] {
  const { db, settings } = ledger;
  const newest = db.many(
    build
      .selectFrom('ticket')
      .select('ticket.id')
      .where('ticket.yard_id', '=', yardId)
      .where('ticket.sold_on', '>=', from)
      .where('ticket.sold_on', '<', until)
      .where(isStandingTicket)
      .orderBy('ticket.sold_on', 'desc')
      .orderBy('ticket.id', 'desc')
      .limit(MOST_TICKETS),
  );
  return newest.reverse().flatMap(({ id }) => {
    const reconciled = reconciledTicket(db, settings, id);
    const found = reconciled === undefined ? [] : comparisonsOf(ledger, scales, reconciled);
    return found.filter((comparison) => comparison !== null);
  });
}
