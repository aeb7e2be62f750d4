import { listWireKinds } from '../bench/queries.ts';
import type { Ledger } from '../context.ts';
import { listItemKinds } from '../items/kind-queries.ts';
import { listAllBins } from '../ledger/queries.ts';
import { listContainers, listGrades, listScales, listYards } from '../setup/queries.ts';
import { writeWeight } from '../units/write-weight.ts';
import { type Asked, factsOf, type Hit } from './hit.ts';
import type { Slice } from './queries.ts';
import { linesWith } from './words.ts';

/** Rows of a short list whose words have all of those asked for, anywhere in them. */
function listed<Row>(
  rows: readonly Row[],
  { words }: Asked,
  { offset, count }: Slice,
  parts: { said: (row: Row) => string; hit: (row: Row) => Hit },
): Hit[] {
  const plain = (text: string) => text.normalize('NFD').replace(/\p{M}/gu, '').toLowerCase();
  const wanted = words.map(plain);
  const found = rows.filter((row) => wanted.every((word) => plain(parts.said(row)).includes(word)));
  return found.slice(offset, offset + count).map(parts.hit);
}

type ListedBin = ReturnType<typeof listAllBins>[number];

export const binHit = ({ code, grade_name, place, closed_on }: ListedBin): Hit => ({
  href: `/bins/${encodeURIComponent(code)}`,
  name: `Bin ${code}`,
  facts: factsOf(grade_name, place, closed_on === null ? '' : 'closed'),
  text: '',
});

export function bins({ db }: Ledger, asked: Asked, slice: Slice): Hit[] {
  // One with exactly this code stands above already.
  const others = listAllBins(db).filter(({ code }) => code.toLowerCase() !== asked.text.toLowerCase());
  return listed(others, asked, slice, {
    said: ({ code, place, grade_name }) => `${code} ${place} ${grade_name}`,
    hit: binHit,
  });
}

export function grades({ db }: Ledger, asked: Asked, slice: Slice): Hit[] {
  return listed(listGrades(db), asked, slice, {
    said: ({ name, code }) => `${name} ${code}`,
    hit: ({ id, name, code, family }) => ({
      href: `/prices/grades/${id}`,
      name,
      facts: factsOf(family, code === '' ? '' : `code word ${code}`),
      text: '',
    }),
  });
}

export function yards({ db }: Ledger, asked: Asked, slice: Slice): Hit[] {
  return listed(listYards(db), asked, slice, {
    said: ({ name, notes }) => `${name} ${notes}`,
    hit: ({ id, name, notes }) => ({
      href: `/setup/yards/${id}`,
      name,
      facts: '',
      text: linesWith(notes, asked.words),
    }),
  });
}

export function containers({ db, settings }: Ledger, asked: Asked, slice: Slice): Hit[] {
  return listed(listContainers(db), asked, slice, {
    said: ({ name }) => name,
    hit: ({ id, name, tare_ug }) => ({
      href: `/setup/containers/${id}`,
      name,
      facts: `weighs ${writeWeight(tare_ug, settings.unit, settings.decimalMark)} empty`,
      text: '',
    }),
  });
}

export function wireKinds({ db }: Ledger, asked: Asked, slice: Slice): Hit[] {
  return listed(listWireKinds(db), asked, slice, {
    said: ({ name, note }) => `${name} ${note}`,
    hit: ({ id, name, note, grade_name }) => ({
      href: `/bench/wire/kinds/${id}`,
      name,
      facts: grade_name,
      text: linesWith(note, asked.words),
    }),
  });
}

export function scales({ db }: Ledger, asked: Asked, slice: Slice): Hit[] {
  return listed(listScales(db), asked, slice, {
    said: ({ name }) => name,
    hit: ({ id, name }) => ({ href: `/setup/scales/${id}`, name, facts: '', text: '' }),
  });
}

export function itemKinds({ db }: Ledger, asked: Asked, slice: Slice): Hit[] {
  return listed(listItemKinds(db), asked, slice, {
    said: ({ name, note }) => `${name} ${note}`,
    hit: ({ id, name, note, as_is_grade_name: asIs }) => ({
      href: `/setup/item-kinds/${id}`,
      name,
      facts: asIs === null ? '' : `as is: ${asIs}`,
      text: linesWith(note, asked.words),
    }),
  });
}
