import type { Currency } from '../money/currencies.ts';
import { type AmountMinor, amountMinor, NO_MONEY, negateMoney, roundToMinor, sumMoney } from '../money/money.ts';
import { convertPrice, type PriceUnit, type UnitPrice, weighedGrams } from '../prices/compute.ts';
import {
  type ConnectedSet,
  connectLoadsAndLines,
  expectedAmount,
  type PrintedLine,
  yardWeightOf,
} from '../tickets/compute.ts';
import { Decimal } from '../units/decimal.ts';
import { convertWeight, type MassUg, type MassUnit, NO_MASS, sumMass, toMassUg, unitRatio } from '../units/mass.ts';

/** A load as its manifest was frozen: price is digits with a point as mark, null when there was no quote. */
export interface ReconciledLoad {
  readonly id: number;
  readonly label: string;
  /** Grade of the bin it came from. */
  readonly gradeId: number;
  /** Above zero. */
  readonly massUg: MassUg;
  readonly price: string | null;
  readonly per: PriceUnit | null;
  /** What the manifest printed; nothing when there was no quote. */
  readonly expectedMinor: AmountMinor;
}

export interface ReconciledLine extends PrintedLine {
  /** The same yard's quote for the grade this line was paid as, as it stood on the day the manifest was loaded. */
  readonly quoteForPaidGrade: UnitPrice | null;
}

export interface ReconciliationInput {
  readonly currency: Currency;
  /** Unit of a group that has no ticket line: the yard's. */
  readonly unit: MassUnit;
  readonly loads: readonly ReconciledLoad[];
  readonly lines: readonly ReconciledLine[];
  /** Taken off, so a positive figure. */
  readonly chargesMinor: AmountMinor;
  readonly taxMinor: AmountMinor;
  readonly cashRoundingMinor: AmountMinor;
  readonly totalMinor: AmountMinor;
}

/** Where the money of a group, or of a ticket, went: expected plus the six effects is what was paid. */
export interface Effects {
  readonly expectedMinor: AmountMinor;
  readonly scaleMinor: AmountMinor;
  readonly deductionMinor: AmountMinor;
  readonly gradeMinor: AmountMinor;
  readonly priceMinor: AmountMinor;
  readonly roundingMinor: AmountMinor;
  readonly arithmeticMinor: AmountMinor;
  readonly paidMinor: AmountMinor;
}

export interface ReconciliationGroup extends Effects {
  /** In the order of the labels. */
  readonly loadIds: readonly number[];
  readonly lineNos: readonly number[];
  /** Grades of the bins, each once. */
  readonly gradeIds: readonly number[];
  /** Unit of its first ticket line, or the yard's. */
  readonly unit: PriceUnit;
  readonly isOnTicket: boolean;
  /** False when a piece price or a piece count is in it: then the weights say nothing and all is in the price. */
  readonly comparedByWeight: boolean;
  /** Weighed at home, gross less tare at the yard, and net paid. */
  readonly homeUg: MassUg;
  readonly yardUg: MassUg;
  readonly paidUg: MassUg;
}

export type StepName =
  | 'expected'
  | 'scale'
  | 'deduction'
  | 'grade'
  | 'price'
  | 'rounding'
  | 'arithmetic'
  | 'notOnManifest'
  | 'charges'
  | 'tax'
  | 'cashRounding'
  | 'paid';

export interface Step {
  readonly name: StepName;
  readonly amountMinor: AmountMinor;
}

export interface TicketReconciliation {
  readonly groups: readonly ReconciliationGroup[];
  /** The groups summed, before what concerns the ticket only. */
  readonly sums: Effects;
  readonly notOnManifest: { readonly lineNos: readonly number[]; readonly amountMinor: AmountMinor };
  readonly chargesMinor: AmountMinor;
  readonly taxMinor: AmountMinor;
  readonly cashRoundingMinor: AmountMinor;
  /** The printed total less what the ticket's own figures give. */
  readonly ticketArithmeticMinor: AmountMinor;
  readonly totalMinor: AmountMinor;
  /** For a waterfall: the first and every effect after it add up to the last. Charges are negative here. */
  readonly steps: readonly Step[];
}

interface Members {
  readonly loads: readonly ReconciledLoad[];
  readonly lines: readonly ReconciledLine[];
}

const alphabet = new Intl.Collator('en');

/** Loads by label, shorter labels first because Z is followed by AA; so also the sets, by their first load. */
const inLabelOrder = (loads: readonly ReconciledLoad[]): ReconciledLoad[] =>
  [...loads].sort((a, b) => a.label.length - b.label.length || alphabet.compare(a.label, b.label));

function membersOf(set: ConnectedSet, input: ReconciliationInput): Members {
  return {
    loads: inLabelOrder(input.loads.filter((load) => set.loadIds.includes(load.id))),
    lines: input.lines.filter((line) => set.lineNos.includes(line.lineNo)).sort((a, b) => a.lineNo - b.lineNo),
  };
}

const isByPiece = ({ loads, lines }: Members): boolean =>
  loads.some((load) => load.per === 'each') || lines.some((line) => line.unit === 'each' || line.per === 'each');

/** A weight in a line's unit as grams: exact, because every unit is a finite decimal number of grams. */
function gramsOf(amount: Decimal, unit: PriceUnit): Decimal {
  if (unit === 'each') throw new Error('a count of pieces has no weight');
  return convertWeight({ amount, unit }, 'g').amount;
}

export const sum = (terms: readonly Decimal[]): Decimal => terms.reduce((a, b) => a.plus(b), new Decimal(0));

/**
 * The quoted price p = Σ wᵢpᵢ / Σ wᵢ, kept as a fraction. Prices are per `per`, and every price of the group is
 * written over the same denominator, the home weight in grams: so an effect multiplies whole products first and
 * divides once, and a tie of half a cent stays a tie.
 */
interface GroupPrices {
  readonly per: MassUnit;
  readonly homeGrams: Decimal;
  /** p times the home weight. */
  readonly quoted: Decimal;
  readonly isQuoted: boolean;
}

/** The unit to reckon a group's prices in: that of its first quote, else of its first line, so most need no change. */
function reckoningUnit({ loads, lines }: Members): MassUnit {
  const units = [...loads.filter((load) => load.price !== null), ...lines].map((member) => member.per);
  return units.find((per): per is MassUnit => per !== null && per !== 'each') ?? 'g';
}

const priceIn = (per: MassUnit, unitPrice: UnitPrice): Decimal => {
  const price = unitPrice.per === per ? unitPrice.price : convertPrice(unitPrice, per);
  if (price === null) throw new Error('a price per piece has no price by weight');
  return price;
};

export const quoteOf = ({ price, per }: ReconciledLoad): UnitPrice | null =>
  price === null || per === null ? null : { price: new Decimal(price), per };

function pricesOf(members: Members): GroupPrices {
  const per = reckoningUnit(members);
  const quotes = members.loads.map((load) => ({ grams: weighedGrams(load.massUg, per), quote: quoteOf(load) }));
  return {
    per,
    homeGrams: sum(quotes.map(({ grams }) => grams)),
    quoted: sum(quotes.map(({ grams, quote }) => (quote === null ? new Decimal(0) : grams.times(priceIn(per, quote))))),
    isQuoted: quotes.some(({ quote }) => quote !== null),
  };
}

/** One ticket line in grams, with its quoted price q and paid price r over the group's denominator. */
interface WeighedLine {
  readonly yardGrams: Decimal;
  readonly paidGrams: Decimal;
  readonly quoted: Decimal;
  readonly paid: Decimal;
}

/**
 * q is the group's own p when every load is of the grade the line was paid as, else the yard's quote for that grade,
 * else the price paid, so that the whole difference counts as grade. Where no load had a quote there is nothing that
 * a grade could have lost, so q is p, which is zero, and all of the money is in the price.
 */
function weighLine(line: ReconciledLine, loads: readonly ReconciledLoad[], prices: GroupPrices): WeighedLine {
  const overHome = (unitPrice: UnitPrice): Decimal => priceIn(prices.per, unitPrice).times(prices.homeGrams);
  const paid = overHome({ price: new Decimal(line.price), per: line.per });
  const isOwnGrade = loads.every((load) => load.gradeId === line.gradeId);
  const quote = line.quoteForPaidGrade;
  const elsewhere = quote === null || quote.per === 'each' ? paid : overHome(quote);
  return {
    yardGrams: gramsOf(yardWeightOf(line), line.unit),
    paidGrams: gramsOf(new Decimal(line.net), line.unit),
    quoted: isOwnGrade || !prices.isQuoted ? prices.quoted : elsewhere,
    paid,
  };
}

type Identity = Pick<ReconciliationGroup, 'loadIds' | 'lineNos' | 'gradeIds' | 'unit' | 'homeUg'>;

function identityOf({ loads, lines }: Members, unit: MassUnit): Identity {
  return {
    loadIds: loads.map((load) => load.id),
    lineNos: lines.map((line) => line.lineNo),
    gradeIds: [...new Set(loads.map((load) => load.gradeId))],
    unit: lines[0]?.unit ?? unit,
    homeUg: sumMass(loads.map((load) => load.massUg)),
  };
}

const NO_EFFECTS = {
  scaleMinor: NO_MONEY,
  deductionMinor: NO_MONEY,
  gradeMinor: NO_MONEY,
  priceMinor: NO_MONEY,
  roundingMinor: NO_MONEY,
  arithmeticMinor: NO_MONEY,
};

const expectedOf = ({ loads }: Members): AmountMinor => sumMoney(loads.map((load) => load.expectedMinor));
const paidOf = ({ lines }: Members): AmountMinor => sumMoney(lines.map((line) => line.amountMinor));

/** A load that no line pays for: nothing was weighed at the yard, so all of it is a difference of the scales. */
function groupNotOnTicket(members: Members, unit: MassUnit): ReconciliationGroup {
  const expectedMinor = expectedOf(members);
  return {
    ...identityOf(members, unit),
    ...NO_EFFECTS,
    isOnTicket: false,
    comparedByWeight: !isByPiece(members),
    yardUg: NO_MASS,
    paidUg: NO_MASS,
    expectedMinor,
    scaleMinor: negateMoney(expectedMinor),
    paidMinor: NO_MONEY,
  };
}

/** Pieces have no weight to compare, so the whole difference is in the price. */
function groupByPiece(members: Members, unit: MassUnit): ReconciliationGroup {
  const identity = identityOf(members, unit);
  const [expectedMinor, paidMinor] = [expectedOf(members), paidOf(members)];
  return {
    ...identity,
    ...NO_EFFECTS,
    isOnTicket: true,
    comparedByWeight: false,
    yardUg: identity.homeUg,
    paidUg: identity.homeUg,
    expectedMinor,
    priceMinor: amountMinor(paidMinor - expectedMinor),
    paidMinor,
  };
}

/** Printed amounts less net times price: the yard's slips of multiplication. */
function amountSlips({ lines }: Members, currency: Currency): AmountMinor {
  const slips = lines.map((line) => line.amountMinor - (expectedAmount(line, currency) ?? line.amountMinor));
  return amountMinor(slips.reduce((a, b) => a + b, 0));
}

/**
 * The effects as sums of grams times price over the home weight. Quantity at the quoted price, price at the paid
 * quantity: the usual convention of standard costing.
 */
function weightEffects(members: Members, currency: Currency) {
  const prices = pricesOf(members);
  const lines = members.lines.map((line) => weighLine(line, members.loads, prices));
  const yardGrams = sum(lines.map((line) => line.yardGrams));
  const paidGrams = sum(lines.map((line) => line.paidGrams));
  const denominator = prices.homeGrams.times(unitRatio(prices.per, 'g'));
  const toMoney = (product: Decimal): AmountMinor => roundToMinor(product.div(denominator), currency);
  return {
    yardGrams,
    paidGrams,
    scaleMinor: toMoney(yardGrams.minus(prices.homeGrams).times(prices.quoted)),
    deductionMinor: toMoney(paidGrams.minus(yardGrams).times(prices.quoted)),
    gradeMinor: toMoney(sum(lines.map((line) => line.paidGrams.times(line.quoted.minus(prices.quoted))))),
    priceMinor: toMoney(sum(lines.map((line) => line.paidGrams.times(line.paid.minus(line.quoted))))),
  };
}

function groupByWeight(members: Members, input: ReconciliationInput): ReconciliationGroup {
  const { yardGrams, paidGrams, ...effects } = weightEffects(members, input.currency);
  const [expectedMinor, paidMinor] = [expectedOf(members), paidOf(members)];
  const explained = sumMoney([expectedMinor, ...Object.values(effects)]);
  const arithmeticMinor = amountSlips(members, input.currency);
  return {
    ...identityOf(members, input.unit),
    isOnTicket: true,
    comparedByWeight: true,
    yardUg: toMassUg({ amount: yardGrams, unit: 'g' }),
    paidUg: toMassUg({ amount: paidGrams, unit: 'g' }),
    expectedMinor,
    ...effects,
    roundingMinor: amountMinor(paidMinor - explained - arithmeticMinor),
    arithmeticMinor,
    paidMinor,
  };
}

function reconcileGroup(members: Members, input: ReconciliationInput): ReconciliationGroup {
  if (members.lines.length === 0) return groupNotOnTicket(members, input.unit);
  return isByPiece(members) ? groupByPiece(members, input.unit) : groupByWeight(members, input);
}

const EFFECT_NAMES = [
  'expectedMinor',
  'scaleMinor',
  'deductionMinor',
  'gradeMinor',
  'priceMinor',
  'roundingMinor',
  'arithmeticMinor',
  'paidMinor',
] as const;

function sumEffects(groups: readonly Effects[]): Effects {
  const sums = EFFECT_NAMES.map((name) => [name, sumMoney(groups.map((group) => group[name]))] as const);
  return Object.fromEntries(sums) as unknown as Effects;
}

function stepsOf(ticket: Omit<TicketReconciliation, 'steps' | 'groups'>): Step[] {
  const { sums } = ticket;
  const steps: [StepName, AmountMinor][] = [
    ['expected', sums.expectedMinor],
    ['scale', sums.scaleMinor],
    ['deduction', sums.deductionMinor],
    ['grade', sums.gradeMinor],
    ['price', sums.priceMinor],
    ['rounding', sums.roundingMinor],
    ['arithmetic', amountMinor(sums.arithmeticMinor + ticket.ticketArithmeticMinor)],
    ['notOnManifest', ticket.notOnManifest.amountMinor],
    ['charges', negateMoney(ticket.chargesMinor)],
    ['tax', ticket.taxMinor],
    ['cashRounding', ticket.cashRoundingMinor],
    ['paid', ticket.totalMinor],
  ];
  return steps.map(([name, amount]) => ({ name, amountMinor: amount }));
}

/**
 * Says where every cent of a ticket went. Groups are the connected sets of loads and lines, in the order of their
 * first load's label; lines without loads are `notOnManifest`. Each effect is rounded half away from zero to the minor
 * unit and what is left is `rounding`, less the slips of multiplication on the ticket, which are `arithmetic`.
 * For each group expected + scale + deduction + grade + price + rounding + arithmetic = paid, and for the ticket
 * Σ paid + notOnManifest − charges + tax + cashRounding + ticketArithmetic = total, exactly.
 * Throws when a line names a load that is not given.
 */
export function reconcileTicket(input: ReconciliationInput): TicketReconciliation {
  const sets = connectLoadsAndLines(inLabelOrder(input.loads), input.lines);
  const groups = sets.map((set) => reconcileGroup(membersOf(set, input), input));
  const sums = sumEffects(groups);
  const unclaimed = input.lines.filter((line) => line.loadIds.length === 0);
  const notOnManifest = {
    lineNos: unclaimed.map((line) => line.lineNo).sort((a, b) => a - b),
    amountMinor: sumMoney(unclaimed.map((line) => line.amountMinor)),
  };
  const { chargesMinor, taxMinor, cashRoundingMinor, totalMinor } = input;
  const lineMoney = sums.paidMinor + notOnManifest.amountMinor;
  const ticketArithmeticMinor = amountMinor(totalMinor - (lineMoney - chargesMinor + taxMinor + cashRoundingMinor));
  const money = { chargesMinor, taxMinor, cashRoundingMinor, ticketArithmeticMinor, totalMinor };
  const ticket = { sums, notOnManifest, ...money };
  return { groups, ...ticket, steps: stepsOf(ticket) };
}
