import type { Caution } from '../server/manifests/compute.ts';
import { massUg } from '../server/units/mass.ts';

/**
 * The usual precautions for what goes on a yard run, as the sheet prints them. Each names where it is published, or
 * says that it is common practice. None of them says that something is allowed: local rules and licensed practice go
 * first. A grade is told by its family or by words in its name, since every grade may be renamed.
 */
export const cautions: readonly Caution[] = [
  {
    title: 'Units that held refrigerant',
    text:
      'Bring the proof of recovery: who recovered the refrigerant, their address and the day. It is done by a ' +
      'licensed person. Without that paper leave the unit at home, shut; never cut or vent it.',
    basis: '40 CFR 82.155 (US); Regulation (EU) 2024/573, Articles 8 and 10',
    appliesTo: {
      gradeNamed:
        /\bsealed units?\b|compressor|refrigera|\bfridge|freezer|air.?condition|dehumidif|\bappliances?\b|alumin(i)?um and copper radiator/i,
    },
  },
  {
    title: 'Lead-acid batteries',
    text: 'Keep them apart from the other loads, upright, in an acid-proof tray, terminals taped. Do not drain them.',
    basis: 'industry circular, notes to the battery grades; taping: common practice',
    appliesTo: { gradeNamed: /\blead.?acid|\bbatter(y|ies)\b/i },
  },
  {
    title: 'Lithium cells in electronics',
    text:
      'Take cells out where they come out easily. Tape the terminals or bag each one, and keep swollen ones apart and ' +
      'outdoors. They go to a battery collection point, not into a bin.',
    basis: 'US EPA, used lithium-ion batteries',
    appliesTo: { gradeNamed: /\bcomputers?, whole|laptop|notebook|\bphones?\b|lithium|cordless/i },
  },
  {
    title: 'Insulated and bare wire',
    text:
      'No burnt wire: yards commonly turn it away or pay far less, and burning insulation gives off dioxins and metal ' +
      'fumes. Strip it with a tool, or sell it with its insulation on.',
    basis: 'Saskatchewan Ministry of Environment, copper wire recycling sheet',
    appliesTo: { gradeNamed: /\bwires?\b|\bcables?\b|\blight strings?\b|\bcords?\b/i },
  },
  {
    title: 'Ballasts and old capacitors',
    text:
      'Without a "No PCBs" mark they are commonly treated as holding PCB: leave them shut, bag one that leaks, and take ' +
      'them to a collection point.',
    basis: '40 CFR 761.60(b)(2); EPA 530-F-20-005',
    appliesTo: { gradeNamed: /ballast|capacitor/i },
  },
  {
    title: 'Picture tubes',
    text: 'Leave the tube whole and in its case; it can implode, and its glass holds lead. Ask the yard before you go.',
    basis: '40 CFR 261.4(a)(22); EPA530-F-06-012',
    appliesTo: { gradeNamed: /picture tube|cathode|\bcrt\b|television|\bmonitors?\b/i },
  },
  {
    title: 'Lead',
    text: 'Closed container, no food beside it, and wash your hands after handling. No dry grinding.',
    basis: 'common practice',
    appliesTo: { gradeNamed: /\b(soft|mixed|scrap|sheet) lead\b|^lead\b(?!.acid)/i },
  },
  {
    title: 'Heavy loads',
    // The load constant of the revised lifting equation. Printed in pounds and kilograms, whichever the ledger uses.
    text:
      'More than 51 lb (23 kg) in one piece or bucket is for two people or a trolley; far, low or twisted lifts sooner. ' +
      'Divide what can be divided.',
    basis: 'NIOSH 94-110, revised lifting equation',
    appliesTo: { heavierThanUg: massUg(23_000_000_000) },
  },
];

/** What every sheet reminds of, whatever is loaded. */
export interface Reminder {
  title: string;
  points: readonly string[];
  basis: string;
}

export const reminders: readonly Reminder[] = [
  {
    title: 'Bring',
    points: [
      'this sheet and a pen',
      'photo ID, where the law asks for it',
      'proof of where the material is from: receipts, notes from those who gave it',
      'gloves, straps, a tare of each container',
    ],
    basis: 'identity and ownership: metals-theft laws of the US states differ (ReMA compendium, 2021)',
  },
  {
    title: 'Yards commonly turn away',
    points: [
      'closed tanks and cylinders',
      'units without proof of recovery',
      'burnt wire',
      'leaking batteries or capacitors',
      'material marked as belonging to a utility, railway or town',
    ],
    basis: 'common practice; ask this yard before you go',
  },
  {
    title: 'Yards commonly must',
    points: [
      'record who sells, the vehicle and what is sold',
      'ask for a signed statement of ownership',
      'keep some goods aside for some days',
      'pay some goods otherwise than in cash',
    ],
    basis: 'for example the Washington State bill report on SB 5495 (2022); what applies is set locally',
  },
];
