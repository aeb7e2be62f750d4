import { cautions } from '../../seed/cautions.ts';
import type { MassUg } from '../units/mass.ts';

/** What a caution is about, by words in names, since every kind, part and grade may be renamed. */
export interface CautionAppliesTo {
  /** Words in the name of an item or of its kind, beside the keys that the kind names itself. */
  kindNamed?: RegExp;
  /** Words in the name of a part, or of what came out of an item. */
  partNamed?: RegExp;
  /** Words in the name of a grade, on the sheet for the yard. */
  gradeNamed?: RegExp;
  /** On the sheet: a load heavier than this. */
  heavierThanUg?: MassUg;
}

/**
 * One hazard of the work with its usual precaution, where that is published, and where licensed practice is required.
 * Nowhere how to do what needs a licence, and nowhere that something is safe or allowed.
 */
export interface Caution {
  /** By which kinds of items name it; never changes once it has landed. */
  key: string;
  title: string;
  /** What can happen. */
  hazard: string;
  precaution: string;
  basis: string;
  /** Who may do it where licensed practice is required; '' where none is known of. */
  licence: string;
  /** Belongs to every item: it stands folded, so that what is special stands out. */
  isGeneral: boolean;
  appliesTo: CautionAppliesTo;
  /** What the sheet for the yard says of it; '' where it is no matter of the yard run. */
  onSheet: string;
  /** It matters at the yard for whatever comes out of such an item, whatever grade that is. */
  followsItem: boolean;
}

/** What decides on the cautions of an item: its kind, and the words that were typed for it and its parts. */
export interface CautionedKind {
  name: string;
  /** Keys joined by commas. */
  cautions: string;
}

export const cautionKeys: readonly string[] = cautions.map(({ key }) => key);

/** The keys that a kind names, in the list's order; what no caution has is left out. */
export function readCautionKeys(joined: string): string[] {
  const named = new Set(joined.split(',').map((key) => key.trim()));
  return cautionKeys.filter((key) => named.has(key));
}

/** Whether the words of a name bring a caution up by themselves. */
const isNamed = ({ appliesTo: { kindNamed, partNamed } }: Caution, name: string, parts: readonly string[]): boolean =>
  (kindNamed?.test(name) ?? false) || parts.some((part) => partNamed?.test(part) ?? false);

/**
 * The cautions of a kind of item: those it names, those that words in its name bring up, and the general ones of every
 * workshop. The special ones first.
 * @param itemName what tells the item from others of its kind, such as "bar fridge, white"
 * @param parts names of parts and of what came out of it
 */
export function cautionsOfKind(kind: CautionedKind, itemName = '', parts: readonly string[] = []): Caution[] {
  const named = readCautionKeys(kind.cautions);
  const name = `${kind.name} ${itemName}`;
  const own = cautions.filter(
    (caution) => caution.isGeneral || named.includes(caution.key) || isNamed(caution, name, parts),
  );
  return [...own.filter(({ isGeneral }) => !isGeneral), ...own.filter(({ isGeneral }) => isGeneral)];
}
