import type { Caution } from '../server/items/cautions.ts';
import { massUg } from '../server/units/mass.ts';

/** Under every list of cautions, on the screen and on paper. */
export const LOCAL_FIRST = 'Local codes and licensed practice go first.';

const COMMON = 'common practice, no published source';

/** What is special about some items and some loads. */
const special: readonly Caution[] = [
  {
    key: 'microwave',
    title: 'Stored charge in microwave ovens',
    hazard: 'A capacitor behind the cover keeps several thousand volts after the plug is pulled. It can kill.',
    precaution: 'Unplugged is not enough. Leave the cover on; what is behind it is for a trained person.',
    basis: 'US CPSC document 5061',
    licence: 'No licence is asked for; CPSC advises that only trained professionals work inside.',
    isGeneral: false,
    appliesTo: { kindNamed: /microwave/i, partNamed: /microwave|high.?voltage capacitor/i },
    onSheet: '',
    followsItem: false,
  },
  {
    key: 'stored-charge',
    title: 'Stored charge in drives, power supplies and flash units',
    hazard:
      'Large capacitors, also those on motors, hold a dangerous charge long after the power is off, and flash units after the battery is out.',
    precaution:
      'Leave power supplies, motor drives and flash units in their cases and sell them closed. Touch nothing inside; ' +
      'what has to be opened, and a capacitor on a motor, is for a trained person.',
    basis: `${COMMON}; the same hazard in microwave ovens: US CPSC document 5061`,
    licence: '',
    isGeneral: false,
    appliesTo: {
      kindNamed:
        /power suppl|inverter|\bups\b|(power|battery) backup|flash|strobe|desktop|computers?\b|television|\btvs?\b|printer|copier|treadmill|variable.?speed|welder/i,
      partNamed: /power suppl|inverter|flash|strobe|variable.?speed|motor drives?\b|\bcapacitors?\b/i,
    },
    onSheet: '',
    followsItem: false,
  },
  {
    key: 'wound-spring',
    title: 'Wound springs',
    hazard:
      'The spring of a cord reel, a recoil starter or a winding mechanism flies out when its case is opened under tension.',
    precaution: 'Let the tension off before its case is opened, stand aside, and wear safety glasses or a face shield.',
    basis: 'engine service manuals (three with this caution); no government page found',
    licence: '',
    isGeneral: false,
    appliesTo: {
      kindNamed:
        /cord reel|hose reel|recoil|vacuum cleaner|\bvacuums?\b|lawn.?mower|chain.?saw|garage door|trimmer|tape measure|clockwork/i,
      partNamed: /cord reel|recoil|\bsprings?\b/i,
    },
    onSheet: '',
    followsItem: false,
  },
  {
    key: 'refrigerant',
    title: 'Units that held refrigerant',
    hazard:
      'The closed circuit holds refrigerant under pressure: it burns cold, some of it catches fire, and letting it out ' +
      'harms the air and is punished in many places.',
    precaution:
      'Never cut or vent it; leave the circuit shut. Hand the unit over whole, or keep the paper that says who recovered ' +
      'the refrigerant, their address and the day.',
    basis: '40 CFR 82.155 (US); Regulation (EU) 2024/573, Articles 8 and 10',
    licence:
      'Recovering refrigerant is for certified people with certified equipment (US: details from memory; EU). In Canada ' +
      'mostly the provinces say who.',
    isGeneral: false,
    appliesTo: {
      kindNamed: /refrigera|\bfridge|freezer|air.?condition|dehumidif|heat.?pump|water cooler|ice.?maker|wine cooler/i,
      partNamed: /\bsealed units?\b|(?<!air )compressor|evaporator/i,
      gradeNamed:
        /\bsealed units?\b|compressor|refrigera|\bfridge|freezer|air.?condition|dehumidif|\bappliances?\b|alumin(i)?um and copper radiator/i,
    },
    onSheet:
      'Bring the proof of recovery: who recovered the refrigerant, their address and the day. It is done by a ' +
      'licensed person. Without that paper leave the unit at home, shut; never cut or vent it.',
    followsItem: true,
  },
  {
    key: 'lead-acid',
    title: 'Lead-acid batteries',
    hazard: 'The acid burns skin and eyes, and a short between the terminals starts fires.',
    precaution: 'Keep them upright and shut in an acid-proof tray, terminals taped. Never open or drain one.',
    basis:
      'industry circular, notes to the battery grades; 40 CFR 266 subpart G (from memory); taping: common practice',
    licence: '',
    isGeneral: false,
    appliesTo: {
      kindNamed:
        /lead.?acid|\bups\b|(power|battery) backup|alarm panel|emergency light|mobility scooter|wheelchair|jump.?start|ride.?on|golf cart/i,
      partNamed: /lead.?acid|car batter/i,
      gradeNamed: /\blead.?acid|\bbatter(y|ies)\b/i,
    },
    onSheet:
      'Keep them apart from the other loads, upright, in an acid-proof tray, terminals taped. Do not drain them.',
    followsItem: true,
  },
  {
    key: 'lithium',
    title: 'Lithium cells and packs',
    hazard: 'A cell that is crushed, pierced or shorted burns fiercely and cannot be blown out.',
    precaution:
      'Take the pack out before anything else, where it comes out easily, and never open it. Tape the terminals or bag ' +
      'each one; keep swollen ones apart and outdoors. They go to a battery collection point, not into a bin.',
    basis: 'US EPA, used lithium-ion batteries',
    licence: '',
    isGeneral: false,
    appliesTo: {
      kindNamed:
        /lithium|laptop|notebook|\bphones?\b|tablet|cordless|with battery|batter(y|ies) pack|\be.?bike|electric bi(ke|cycle)|scooter|power bank|toothbrush|shaver|robot|drone/i,
      partNamed: /lithium|batter(y|ies)|\bcells?\b/i,
      gradeNamed: /\bcomputers?, whole|laptop|notebook|\bphones?\b|lithium|cordless/i,
    },
    onSheet:
      'Take cells out where they come out easily. Tape the terminals or bag each one, and keep swollen ones apart and ' +
      'outdoors. They go to a battery collection point, not into a bin.',
    followsItem: true,
  },
  {
    key: 'mercury',
    title: 'Mercury switches and lamps',
    hazard: 'Mercury vapour poisons the nerves and kidneys. A broken switch or lamp gives it off for long.',
    precaution:
      'Look for glass or metal tilt switches in lids and thermostats of old washers, heaters and freezers. Take switches ' +
      'and tube lamps out whole, never break one, keep them in a closed container, and hand them in at a collection ' +
      'point. Hand old flat screens in whole, with the thin lamps behind them in place.',
    basis: '40 CFR 273.4 and 273.9; EPA530-F-05-010 (July 2005)',
    licence: '',
    isGeneral: false,
    appliesTo: {
      kindNamed:
        /mercury|thermostat|fluorescent|tube light|tanning|washing machine|\bwashers?\b|chest freezer|freezer|flat television|flat screen|\blcd\b|monitor|scanner|copier|projector|water heater|boiler|furnace/i,
      partNamed: /mercury|thermostat|tilt switch|fluorescent|\blamps?\b|\btubes? lights?\b/i,
      gradeNamed: /mercury|fluorescent|thermostat/i,
    },
    onSheet: 'Whole and in a closed container, or better not along at all: they go to a collection point.',
    followsItem: false,
  },
  {
    key: 'pcb',
    title: 'Ballasts and old capacitors',
    hazard:
      'Oil in capacitors and ballasts of before mid 1979 commonly holds PCB, which harms the liver and skin and stays in the body.',
    precaution:
      'Without a "No PCBs" mark, or made before mid 1979, treat it as holding PCB: never open it, bag one that leaks, ' +
      'keep it off the skin, and take it to a collection point.',
    basis: '40 CFR 761.60(b)(2); EPA 530-F-20-005: ballasts made 1 July 1978 to 1 July 1998 had to carry the mark',
    licence: 'Leaking or large ones: approved disposal only.',
    isGeneral: false,
    appliesTo: {
      kindNamed: /ballast|fluorescent|tube light|capacitor/i,
      partNamed: /ballast|capacitor/i,
      gradeNamed: /ballast|capacitor/i,
    },
    onSheet:
      'Without a "No PCBs" mark they are commonly treated as holding PCB: leave them shut, bag one that leaks, and take ' +
      'them to a collection point.',
    followsItem: true,
  },
  {
    key: 'picture-tube',
    title: 'Picture tubes',
    hazard: 'The tube can implode and throw its glass, which holds lead; its anode keeps a charge.',
    precaution:
      'Leave the tube whole and in its case, and hand the set in whole. Touch no cable that leads to the tube.',
    basis:
      '40 CFR 261.4(a)(22), 261.39 to 261.41 (section numbers from memory); EPA530-F-06-012; charge: common practice',
    licence: 'Broken tube glass has rules of its own on storage, labels and keeping.',
    isGeneral: false,
    appliesTo: {
      kindNamed: /picture tube|cathode|\bcrts?\b|tube television|old television/i,
      partNamed: /picture tube|cathode|\bcrts?\b/i,
      gradeNamed: /picture tube|cathode|\bcrt\b|television|\bmonitors?\b/i,
    },
    onSheet:
      'Leave the tube whole and in its case; it can implode, and its glass holds lead. Ask the yard before you go.',
    followsItem: true,
  },
  {
    key: 'asbestos',
    title: 'Asbestos in old heaters',
    hazard:
      'Heat shields and packing of hair dryers, toasters, irons and storage heaters of before about 1980 may be asbestos. Its dust causes cancer.',
    precaution:
      'If it was made before about 1980, do not cut, blow or brush it. Leave it whole, bag it wet, and ask the local ' +
      'waste office where it goes.',
    basis: 'US CPSC actions on hair dryers (1979) and NIOSH air tests; other appliances: only from a law-firm page',
    licence: 'Larger amounts: licensed removal (from memory).',
    isGeneral: false,
    appliesTo: {
      kindNamed:
        /heater|hair ?dryer|toaster|^irons?\b|or irons?\b|(clothes|steam|flat|curling) irons?\b|(?<!microwave )\boven|stove|boiler|furnace|kiln|fuse ?box/i,
      partNamed: /asbestos|heat shield|heating element/i,
    },
    onSheet: '',
    followsItem: false,
  },
  {
    key: 'beryllia',
    title: 'Beryllia ceramics',
    hazard:
      'Dust of beryllium oxide ceramic causes a lasting lung disease. Some high-power tubes have it as insulator.',
    precaution:
      'Whether household magnetrons contain it is disputed; one specialist list calls it unlikely. So do not crack, ' +
      'grind or heat the white or pink insulator, and hand the magnetron in whole.',
    basis: '29 CFR 1910.1024, Appendix A (crushing, cutting and grinding of beryllium oxide)',
    licence: '',
    isGeneral: false,
    appliesTo: {
      kindNamed: /microwave|magnetron|transmitter|radar/i,
      partNamed: /magnetron|ceramic|transmitting tube/i,
    },
    onSheet: '',
    followsItem: false,
  },
  {
    key: 'lead',
    title: 'Lead',
    hazard: 'Lead poisons slowly, by hands and dust; children most of all.',
    precaution: 'Closed container, no food beside it, and wash your hands after handling. No dry grinding, no melting.',
    basis: 'common practice; 29 CFR 1910.1025 (from memory)',
    licence: '',
    isGeneral: false,
    appliesTo: {
      kindNamed: /\blead (pipe|flashing|sheet|weight)s?|wheel weight|sash weight|roof flashing/i,
      partNamed: /\blead\b(?!.acid)|wheel weight|solder/i,
      gradeNamed: /\b(soft|mixed|scrap|sheet) lead\b|^lead\b(?!.acid)/i,
    },
    onSheet: 'Closed container, no food beside it, and wash your hands after handling. No dry grinding.',
    followsItem: false,
  },
];

/** What belongs to every workshop. */
const general: readonly Caution[] = [
  {
    key: 'sharp-sheet',
    title: 'Sharp sheet metal',
    hazard: 'Edges of cabinets and brackets cut to the bone, mostly when a panel slips.',
    precaution: 'Cut-resistant gloves and sleeves; deburr or fold edges that stay.',
    basis: 'ANSI/ISEA 105 and EN 388 (from memory)',
    licence: '',
    isGeneral: true,
    appliesTo: {},
    onSheet: '',
    followsItem: false,
  },
  {
    key: 'gloves',
    title: 'Gloves near rotating tools',
    hazard: 'A drill, lathe or bench wheel catches a glove and takes the hand with it.',
    precaution: 'Gloves for sharp sheet and for sorting; none near drills, lathes and bench wheels.',
    basis: 'trade safety magazine quoting OSHA; 29 CFR 1910.138 and 1910.212 (from memory)',
    licence: '',
    isGeneral: true,
    appliesTo: {},
    onSheet: '',
    followsItem: false,
  },
  {
    key: 'cut-off-wheel',
    title: 'Cut-off wheels',
    hazard: 'A wheel that jams or is too slow for its tool bursts and throws its pieces.',
    precaution:
      'Guard on, at most half of the wheel open and the top half enclosed; the wheel made for at least the speed of the ' +
      'tool; eyes and face covered. Never into closed vessels or sealed circuits.',
    basis:
      '29 CFR 1910.243(c) and 1910.215; wheel speed, 1910.133 and ANSI/ISEA Z87.1 from memory; vessels: common practice',
    licence: '',
    isGeneral: true,
    appliesTo: {},
    onSheet: '',
    followsItem: false,
  },
  {
    key: 'lifting',
    title: 'Heavy loads',
    hazard: 'Backs and feet: most appliances are heavier than one person should lift.',
    // The load constant of the revised lifting equation. Printed in pounds and kilograms, whichever the ledger uses.
    precaution:
      '51 lb (23 kg) is the most even for an ideal lift, less when it is far, low, twisted or often. Two people or a ' +
      'trolley; shoes that cover the toes.',
    basis: 'NIOSH 94-110, revised lifting equation; shoes: common practice',
    licence: '',
    isGeneral: true,
    appliesTo: { heavierThanUg: massUg(23_000_000_000) },
    onSheet:
      'More than 51 lb (23 kg) in one piece or bucket is for two people or a trolley; far, low or twisted lifts sooner. ' +
      'Divide what can be divided.',
    followsItem: false,
  },
  {
    key: 'dust',
    title: 'Lead and silica dust',
    hazard: 'Dust of lead, solder, tube glass and concrete weights harms lungs, blood and nerves.',
    precaution: 'No dry grinding of these; clean wet, no food at the bench, and wash your hands.',
    basis: '29 CFR 1910.1025 and 1910.1053 (from memory)',
    licence: '',
    isGeneral: true,
    appliesTo: {},
    onSheet: '',
    followsItem: false,
  },
  {
    key: 'no-burning',
    title: 'No burning of insulation',
    hazard: 'Burning insulation gives off dioxins and metal fumes, and is forbidden in many places.',
    precaution: 'Do not burn insulation off. Strip it with a tool, or sell the wire with its insulation on.',
    basis:
      'Saskatchewan Ministry of Environment, copper wire recycling sheet; US state open-burning rules (via web articles)',
    licence: 'Approved incinerators only.',
    isGeneral: true,
    appliesTo: { gradeNamed: /\bwires?\b|\bcables?\b|\blight strings?\b|\bcords?\b/i },
    onSheet:
      'No burnt wire: yards commonly turn it away or pay far less, and burning insulation gives off dioxins and metal ' +
      'fumes. Strip it with a tool, or sell it with its insulation on.',
    followsItem: false,
  },
];

/**
 * Every caution of Tarebook, for items and for the sheet to take along. Each names where it is published as it was found
 * ("from memory" where the source was not at hand), or says that it is common practice. None of them says that something
 * is allowed, and none tells how to do what needs a licence: local codes and licensed practice go first.
 */
export const cautions: readonly Caution[] = [...special, ...general];

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
