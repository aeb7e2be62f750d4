import type { Ledger } from '../context.ts';
import type { Db } from '../db/database.ts';
import type { Reader, Typed } from '../reading.ts';
import { Refusal } from '../refusal.ts';
import { findContainer } from '../setup/queries.ts';
import { lastActor } from '../trail.ts';
import { idIn } from '../web.ts';
import { type LoadOut, loadOutOf } from './acts.ts';
import { loadFields } from './compute.ts';
import { changesSince, type LoadVersion, partsTyped, readVersion } from './draft-version.ts';
import { hasFieldsOf } from './forms.ts';
import { typedOfLoad } from './pages.ts';
import type { Load } from './queries.ts';

// Two phones with the same draft. Each form carries along what it was made of, so that what one of them left alone
// stays as the other saved it, and only what both changed is asked about.

interface StoredLoad extends LoadVersion {
  load: Load;
}

/** A load as it is stored now, to hold against what a form was made of. */
export const versionOf = (load: Load): StoredLoad => ({
  load,
  lineId: load.id,
  binId: load.bin_id,
  label: load.label,
  ...partsTyped(typedOfLoad(load), load.id),
});

const changesFor = (typed: Typed, loads: readonly Load[]) => {
  const base = readVersion(typed.version ?? '');
  return base === null ? null : { base, ...changesSince(base, loads.map(versionOf)) };
};

const isTouched = (typed: Typed, then: LoadVersion): boolean =>
  hasFieldsOf(typed, then.lineId) && partsTyped(typed, then.lineId).weighing !== then.weighing;

/** What a post does to the draft as a whole, apart from the weights that it saves. */
export interface WholeDraft {
  /** The load that it takes off. */
  leaving?: number;
  /** It loads the draft: so every load must have been seen. */
  loads?: boolean;
  /** It puts the draft away: so nothing may have been changed unseen. */
  putsAway?: boolean;
}

/**
 * Lays the weights of a form together with what was saved since the form was made.
 * @returns the weights to save. Throws the refusal `draft_changed` where saving would overwrite what nobody has seen.
 */
export function layTogether(
  reader: Reader,
  loads: readonly Load[],
  loadOuts: readonly LoadOut[],
  whole: WholeDraft = {},
): LoadOut[] {
  const { typed } = reader;
  const changes = changesFor(typed, loads);
  if (changes === null) return [...loadOuts];
  const { base, changed, added, removed } = changes;
  const outOf = (lineId: number) => loadOuts.find((loadOut) => loadOut.lineId === lineId);
  const isOverwritten = ({ lineId, load }: StoredLoad): boolean => {
    const then = base.find((each) => each.lineId === lineId);
    const mine = outOf(lineId);
    return lineId === whole.leaving || (mine !== undefined && then !== undefined && isOther(typed, then, mine, load));
  };
  const isUnseen =
    changed.some(isOverwritten) ||
    // The line's id has come again for another bin, and that one is not to be taken off.
    added.some(({ lineId }) => lineId === whole.leaving) ||
    removed.some((then) => then.lineId !== whole.leaving && isTouched(typed, then)) ||
    ((whole.loads || whole.putsAway) && added.length + removed.length > 0) ||
    (whole.putsAway && changed.length > 0);
  if (isUnseen) throw changedMeanwhile();
  return loads.flatMap((load) => {
    const mine = outOf(load.id);
    const then = base.find(({ lineId, binId }) => lineId === load.id && binId === load.bin_id);
    return mine === undefined || then === undefined ? [] : [merged(typed, then, mine, load)];
  });
}

const changedMeanwhile = (): Refusal =>
  new Refusal(
    'draft_changed',
    '',
    'This draft was changed meanwhile. What differs is said below. Send it again to keep what stands in your form.',
  );

/** Both changed the weighing, and not to the same. */
const isOther = (typed: Typed, then: LoadVersion, mine: LoadOut, stored: Load): boolean =>
  isTouched(typed, then) &&
  versionOf(stored).weighing !== then.weighing &&
  !(mine.massUg === stored.mass_ug && mine.scaleId === stored.scale_id && mine.containerId === stored.container_id);

/** What the form left alone stays as it is stored now. */
function merged(typed: Typed, then: LoadVersion, mine: LoadOut, stored: Load): LoadOut {
  const { weighing, empties } = partsTyped(typed, then.lineId);
  const theirs = loadOutOf(stored);
  const isMine = weighing !== then.weighing;
  return {
    ...(isMine ? mine : theirs),
    emptiesBin: empties === then.empties ? theirs.emptiesBin : mine.emptiesBin,
  };
}

/** What somebody else did to a draft since a form was made of it, in words. */
export interface Meanwhile {
  /** By line: the weighing as the other one saved it, and whether the form has taken it over, having no other. */
  loads: ReadonlyMap<number, { said: string; who: string | null; isTaken: boolean }>;
  added: readonly { label: string; binCode: string; who: string | null }[];
  /** With what was typed for it here, if anything was. */
  removed: readonly { label: string; typed: string | null; who: string | null }[];
}

const whoDid = (ledger: Ledger, kind: string, id: number): string | null => {
  const who = lastActor(ledger.db, kind, id) ?? null;
  // The same device has two pages open, or nobody signs in: then a name says nothing.
  return who === ledger.who ? null : who;
};

/** What to say beside the loads of a form that comes back. */
export function readMeanwhile(ledger: Ledger, manifestId: number, loads: readonly Load[], typed: Typed): Meanwhile {
  const changes = changesFor(typed, loads);
  const { base = [], changed = [], added = [], removed = [] } = changes ?? {};
  const who = (lineId: number) => whoDid(ledger, 'manifest_line', lineId);
  const differs = ({ lineId, weighing, empties }: LoadVersion) => {
    const mine = partsTyped(typed, lineId);
    return !hasFieldsOf(typed, lineId) || mine.weighing !== weighing || mine.empties !== empties;
  };
  return {
    loads: new Map(
      changed.filter(differs).map(({ lineId, load }) => [
        lineId,
        {
          said: weighingInWords(ledger.db, typedOfLoad(load), lineId),
          who: who(lineId),
          isTaken: hasFieldsOf(typed, lineId) && base.some((then) => then.lineId === lineId && !isTouched(typed, then)),
        },
      ]),
    ),
    added: added.map(({ lineId, label, load }) => ({ label, binCode: load.bin_code, who: who(lineId) })),
    removed: removed.map((then) => ({
      label: then.label,
      typed: isTouched(typed, then) ? weighingInWords(ledger.db, typed, then.lineId) : null,
      // A load that is gone is known by its manifest only.
      who: whoDid(ledger, 'manifest', manifestId),
    })),
  };
}

/** Fields of a form that comes back: what was typed, and for every load that it left alone what is stored by now. */
export function withTheirs(typed: Typed, loads: readonly Load[]): Typed {
  const changes = changesFor(typed, loads);
  if (changes === null) return typed;
  const { base, changed, added } = changes;
  const leftAlone = changed.filter(({ lineId }) => {
    const then = base.find((each) => each.lineId === lineId);
    return then === undefined || !isTouched(typed, then);
  });
  // A line's id may have come again for another bin: what was typed was not for that one.
  return Object.assign({}, typed, ...[...leftAlone, ...added].map(({ load }) => typedOfLoad(load)));
}

/** What was typed for loads that are not weighed any more, because somebody loaded the draft or put it away. */
export interface TypedInVain {
  who: string | null;
  loads: readonly { label: string; binCode: string; typed: string }[];
}

export function typedInVain(ledger: Ledger, manifestId: number, loads: readonly Load[], typed: Typed): TypedInVain {
  const base = readVersion(typed.version ?? '');
  const isMine = (load: Load): boolean => {
    const then = base?.find(({ lineId }) => lineId === load.id);
    return then === undefined ? hasFieldsOf(typed, load.id) : isTouched(typed, then);
  };
  return {
    who: whoDid(ledger, 'manifest', manifestId),
    loads: loads.filter(isMine).map((load) => ({
      label: load.label,
      binCode: load.bin_code,
      typed: weighingInWords(ledger.db, typed, load.id),
    })),
  };
}

/** A weighing as its fields hold it: "35.0 lb in blue tub", "35.0 lb, tare 2 lb". */
function weighingInWords(db: Db, typed: Typed, lineId: number): string {
  const fields = loadFields(lineId);
  const text = (name: string) => (typed[name] ?? '').trim().slice(0, 60);
  const withUnit = (figure: string) => (/[a-z#]/i.test(figure) ? figure : `${figure} ${text(fields.unit)}`.trim());
  if (text(fields.gross) === '') return 'no reading, so the book weight';
  if (text(fields.tare) !== '') return `${withUnit(text(fields.gross))}, tare ${withUnit(text(fields.tare))}`;
  const container = findContainer(db, idIn(text(fields.container)));
  return `${withUnit(text(fields.gross))}${container === undefined ? '' : ` in ${container.name}`}`;
}
