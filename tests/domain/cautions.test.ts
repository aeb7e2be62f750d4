import { describe, expect, test } from 'vitest';
import { cautions, LOCAL_FIRST } from '../../seed/cautions.ts';
import { starterGrades } from '../../seed/grades.ts';
import { starterKinds } from '../../seed/item-kinds.ts';
import { cautionKeys, cautionsOfKind, readCautionKeys } from '../../server/items/cautions.ts';
import { defaultSettings } from '../../server/setup/settings.ts';
import { Show } from '../../views/common/show.ts';
import { cautionsSection } from '../../views/items/cautions.ts';
import { TODAY } from '../helper.ts';

const byKey = new Map(cautions.map((caution) => [caution.key, caution]));
const specialOf = (name: string, keys = '', parts: string[] = []) =>
  cautionsOfKind({ name, cautions: keys }, '', parts)
    .filter(({ isGeneral }) => !isGeneral)
    .map(({ key }) => key);

describe('the list of cautions', () => {
  // Every hazard that the issue names, with a word that its text must have.
  test.each([
    ['microwave', /capacitor.*thousand volts/],
    ['stored-charge', /charge/],
    ['wound-spring', /spring/],
    ['refrigerant', /refrigerant/],
    ['picture-tube', /implode/],
    ['lithium', /burns/],
    ['lead-acid', /acid/],
    ['mercury', /Mercury/],
    ['pcb', /PCB/],
    ['asbestos', /asbestos/],
    ['beryllia', /beryllium/],
    ['sharp-sheet', /cut/],
    ['cut-off-wheel', /wheel/],
    ['gloves', /glove/],
    ['lifting', /lift/],
    ['dust', /Dust of lead/],
    ['no-burning', /Burning/],
  ])('has %s with hazard, precaution and basis', (key, word) => {
    const caution = byKey.get(key);
    expect(caution?.hazard).toMatch(word);
    expect(caution?.precaution.length).toBeGreaterThan(30);
    expect(caution?.basis.length).toBeGreaterThan(10);
  });

  test('has keys that differ and fit into a list parted by commas', () => {
    expect(new Set(cautionKeys).size).toBe(cautionKeys.length);
    expect(cautionKeys.filter((key) => !/^[a-z-]+$/.test(key))).toEqual([]);
  });

  // As the reference list of the project has them, "from memory" kept where the source was not at hand.
  test.each([
    ['microwave', 'CPSC document 5061'],
    ['refrigerant', '40 CFR 82.155'],
    ['refrigerant', '2024/573'],
    ['picture-tube', '40 CFR 261.4(a)(22)'],
    ['picture-tube', 'from memory'],
    ['mercury', 'EPA530-F-05-010'],
    ['pcb', '40 CFR 761.60(b)(2)'],
    ['lithium', 'US EPA'],
    ['beryllia', '29 CFR 1910.1024'],
    ['cut-off-wheel', '29 CFR 1910.243(c)'],
    ['sharp-sheet', 'from memory'],
    ['dust', 'from memory'],
    ['lifting', 'NIOSH 94-110'],
    ['no-burning', 'Saskatchewan'],
    ['stored-charge', 'common practice, no published source'],
  ])('%s rests on %s', (key, source) => {
    expect(byKey.get(key)?.basis).toContain(source);
  });

  test('says that beryllia in household magnetrons is disputed', () => {
    expect(byKey.get('beryllia')?.precaution).toMatch(/disputed/);
  });

  test('says where licensed practice is required', () => {
    const licensed = cautions.filter(({ licence }) => licence !== '').map(({ key }) => key);
    expect(licensed).toEqual(expect.arrayContaining(['refrigerant', 'microwave', 'pcb', 'asbestos', 'no-burning']));
  });

  test('tells nowhere how to open a sealed circuit or to discharge a capacitor, and calls nothing safe or allowed', () => {
    const texts = [
      ...cautions.flatMap(({ title, hazard, precaution, licence, onSheet }) => [
        title,
        hazard,
        precaution,
        licence,
        onSheet,
      ]),
      ...starterKinds.map(({ note }) => note),
      ...starterGrades.flatMap(({ recognise, spoiledBy }) => [recognise, spoiledBy]),
    ];
    const howTo =
      /discharg|bleed|insulated screwdriver|resistor|short (it|the)|pinch|pierc(e|ing) (the|a) (tube|line)|recover (it|the refrigerant)|drain the (acid|oil)|burn off|cut (it )?open (with|by)/i;
    expect(texts.filter((text) => howTo.test(text))).toEqual([]);
    expect(texts.filter((text) => /\b(is|are) (safe|legal|allowed)\b/i.test(text))).toEqual([]);
    // Opening and cutting come up only to say that it is not done.
    const opened = texts.filter((text) => /cut or vent|cut one open|vent it/i.test(text));
    expect(opened.filter((text) => !/never/i.test(text))).toEqual([]);
  });
});

describe('which cautions an item has', () => {
  test('those its kind names, in the order of the list, with the general ones last', () => {
    const keys = cautionsOfKind({ name: 'Thing', cautions: 'pcb,refrigerant' }).map(({ key }) => key);
    expect(keys.slice(0, 3)).toEqual(['refrigerant', 'pcb', 'sharp-sheet']);
    expect(keys.slice(2)).toEqual(cautions.filter(({ isGeneral }) => isGeneral).map(({ key }) => key));
  });

  test('those that words of its name bring up, ticked or not', () => {
    expect(specialOf('Bar fridge')).toEqual(['refrigerant']);
    expect(specialOf('Microwave oven')).toEqual(['microwave', 'beryllia']);
    expect(specialOf('Cordless drill')).toEqual(['lithium']);
    expect(specialOf('Old toaster')).toEqual(['asbestos']);
    expect(specialOf('Bed frame')).toEqual([]);
    expect(cautionsOfKind({ name: 'Other', cautions: '' }, 'chest freezer').map(({ key }) => key)).toContain(
      'refrigerant',
    );
  });

  test('those of its parts', () => {
    expect(specialOf('Other', '', ['run capacitor'])).toEqual(['stored-charge', 'pcb']);
    expect(specialOf('Other', '', ['compressor'])).toEqual(['refrigerant']);
    expect(specialOf('Other', '', ['air compressor tank'])).toEqual([]);
  });

  test('a key that no caution has is left out', () => {
    expect(readCautionKeys('pcb, nonsense,,refrigerant')).toEqual(['refrigerant', 'pcb']);
  });

  test('the section says the hazard before the precaution, folds the general ones and ends with local codes', () => {
    const frame = { settings: defaultSettings, today: TODAY, isDemo: false, isStranger: false, path: '/items/1' };
    const text = String(cautionsSection(new Show(frame), cautionsOfKind({ name: 'Fridge', cautions: '' })));
    const places = ['What can happen', 'Usual precaution', 'Licensed practice', '<details', LOCAL_FIRST].map((word) =>
      text.indexOf(word),
    );
    expect(places).toEqual([...places].sort((a, b) => a - b));
    expect(places[0]).toBeGreaterThan(0);
    expect(text.indexOf('Sharp sheet metal')).toBeGreaterThan(text.indexOf('<details'));
  });
});

describe('the starter kinds', () => {
  test('have names that differ, and cover what the issue calls by name', () => {
    const names = starterKinds.map(({ name }) => name.toLowerCase());
    expect(new Set(names).size).toBe(names.length);
    for (const name of [
      'washing machine',
      'window air conditioner',
      'ceiling fan',
      'desktop computer',
      'tap',
      'light string',
      'microwave oven',
    ]) {
      expect(names).toContain(name);
    }
  });

  test('name cautions, grades and percentages that there are', () => {
    const grades = new Set(starterGrades.map(({ name }) => name));
    const named = starterKinds.flatMap(({ asIs, yields }) => [
      ...(asIs === null ? [] : [asIs]),
      ...yields.map(([g]) => g),
    ]);
    expect(named.filter((name) => !grades.has(name))).toEqual([]);
    expect(starterKinds.flatMap(({ cautions: keys }) => keys).filter((key) => !cautionKeys.includes(key))).toEqual([]);
  });

  // Common practice, no published source: cords about 40 % copper, single-insulated about 60 %, a motor about a tenth.
  test('have rules of thumb only where there is common practice, and say so', () => {
    const ruled = starterKinds.filter(({ yields }) => yields.length > 0);
    expect(ruled.map(({ name, yields }) => [name, yields[0]?.[1]])).toEqual([
      ['Electric motor, loose', '10'],
      ['Extension and appliance cords', '40'],
      ['Single building wire offcuts', '60'],
    ]);
    for (const { note } of ruled) expect(note).toContain('common practice, no published source');
  });

  test('with a compressor carry refrigerant, and with a picture tube its caution', () => {
    const cold = /fridge|freezer|air conditioner|dehumidifier|heat pump|water cooler/i;
    const kinds = starterKinds.filter(({ name }) => cold.test(name));
    expect(kinds.length).toBeGreaterThan(4);
    expect(kinds.filter(({ cautions: keys }) => !keys.includes('refrigerant'))).toEqual([]);
    expect(starterKinds.find(({ name }) => /picture tube/.test(name))?.cautions).toContain('picture-tube');
  });

  test('that hold a small motor say to scratch each one', () => {
    const fan = starterKinds.find(({ name }) => name === 'Ceiling fan');
    expect(fan?.note).toContain('scratch each one');
  });
});

describe('what helps to recognise a grade', () => {
  test('windings may be aluminium: each is to be scratched', () => {
    const wound = ['No. 2 copper wire', 'Electric motors', 'Small motors', 'Transformers, copper wound'];
    const texts = starterGrades.filter(({ name }) => wound.includes(name)).map(({ recognise }) => recognise);
    expect(texts).toHaveLength(4);
    for (const text of texts) expect(text).toMatch(/Windings may be aluminium: scratch each one/);
  });

  test('every metal grade names a magnet, a file or scratch, a colour, layers, or the weight in hand', () => {
    const isTest =
      /magnet|file|scratch|red\b|yellow|white|shiny|grey|rust|layer|light|heavy|heavier|bends|break|thick|marked|gold/i;
    const metals = [
      'copper',
      'insulated wire',
      'brass and bronze',
      'aluminium',
      'stainless',
      'lead and zinc',
      'precious',
    ];
    const without = starterGrades.filter(({ family, recognise }) => metals.includes(family) && !isTest.test(recognise));
    expect(without.map(({ name }) => name)).toEqual(['Lead-acid batteries, wet']);
  });
});
