import { describe, expect, test } from 'vitest';
import { type StarterGrade, starterGrades } from '../../seed/grades.ts';
import { gradeFamilies } from '../../server/ledger/families.ts';
import { isMassUnit } from '../../server/units/mass.ts';

const byName = new Map(starterGrades.map((grade) => [grade.name, grade]));

function repeated(texts: readonly string[]): string[] {
  const seen = new Set<string>();
  return texts.filter((text) => seen.size === seen.add(text.toLowerCase()).size);
}

/** The names on the way down from a grade, itself included; stops when one comes up twice. */
function wayDown(grade: StarterGrade): string[] {
  const names: string[] = [];
  let next: StarterGrade | undefined = grade;
  while (next !== undefined) {
    names.push(next.name);
    if (names.indexOf(next.name) < names.length - 1) return names;
    next = next.fallsBackTo === null ? undefined : byName.get(next.fallsBackTo);
  }
  return names;
}

describe('the starter grades', () => {
  test('have names that differ, whatever the case of their letters', () => {
    expect(repeated(starterGrades.map((grade) => grade.name))).toEqual([]);
  });

  test('fill every family, keep its order, and know no other', () => {
    const inOrder = [...new Set(starterGrades.map((grade) => grade.family))];
    expect(inOrder).toEqual([...gradeFamilies]);
    const places = starterGrades.map((grade) => gradeFamilies.indexOf(grade.family));
    expect(places).toEqual([...places].sort((a, b) => a - b));
  });

  test('carry a code word at most once, whatever the case of its letters', () => {
    const words = starterGrades.flatMap((grade) => grade.code.split('/').map((word) => word.trim()));
    expect(repeated(words.filter((word) => word !== ''))).toEqual([]);
  });

  test('may go without a code word', () => {
    expect(byName.get('Shreddable steel')?.code).toBe('');
  });

  test('fall back only to grades of the list, and never in a circle', () => {
    const unknown = starterGrades.filter((grade) => grade.fallsBackTo !== null && !byName.has(grade.fallsBackTo));
    expect(unknown.map((grade) => grade.name)).toEqual([]);
    const circles = starterGrades.map(wayDown).filter((names) => new Set(names).size < names.length);
    expect(circles).toEqual([]);
  });

  test('are quoted in units of weight, the precious ones by the troy ounce', () => {
    expect(starterGrades.filter((grade) => !isMassUnit(grade.quotedPer))).toEqual([]);
    const precious = starterGrades.filter((grade) => grade.family === 'precious');
    expect(precious.map((grade) => grade.quotedPer)).toEqual(precious.map(() => 'ozt'));
  });

  test('all say how to recognise them and what spoils them, in a sentence or three', () => {
    const hints = starterGrades.flatMap((grade) => [grade.recognise, grade.spoiledBy]);
    expect(hints.filter((hint) => hint.length < 20 || hint.length > 230 || !hint.endsWith('.'))).toEqual([]);
  });

  test('say for closed refrigerant units that a licensed technician comes first', () => {
    for (const name of ['Sealed units', 'Whole appliances', 'Aluminium and copper radiators']) {
      expect(byName.get(name)?.recognise).toMatch(/licensed technician/);
    }
  });
});
