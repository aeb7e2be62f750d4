import { type RawBuilder, type Selectable, type SqlBool, sql } from 'kysely';
import { build, type Db } from '../db/database.ts';
import type { EventTable } from '../ledger/table.ts';
import type { DecimalMark } from '../units/decimal.ts';
import type { MassUg, MassUnit } from '../units/mass.ts';
import { writeWeight } from '../units/write-weight.ts';
import { type RowKind, type RowRanges, rowKinds } from './change.ts';
import type { TrailDocument } from './compute.ts';

/** The largest id of every table that one act may fill with many rows; 0 for an empty one. */
function largestIds(db: Db): Record<RowKind, number> {
  const largest = rowKinds.map(
    (kind) => sql`(select coalesce(max(id), 0) from ${sql.table(kind)}) as ${sql.ref(kind)}`,
  );
  return db.one(sql<Record<RowKind, number>>`select ${sql.join(largest)}`);
}

/** Does what brings rows in and says which. @returns the ranges of ids, and what `act` returned */
export function rowsBroughtIn<Result>(db: Db, act: () => Result): [RowRanges, Result] {
  const before = largestIds(db);
  const result = act();
  const after = largestIds(db);
  const grown = rowKinds.filter((kind) => after[kind] > before[kind]);
  return [Object.fromEntries(grown.map((kind) => [kind, [before[kind] + 1, after[kind]]])), result];
}

/** A line of the trail. */
export type TrailEvent = Selectable<EventTable>;

export interface TrailFilter {
  /** The device; '' for any. */
  who: string;
  /** Kinds of documents; null for all. */
  documentKinds: readonly string[] | null;
  document: TrailDocument | null;
  /** UTC instants: from the first on, and before the second. */
  from: string | null;
  until: string | null;
}

const eventColumns = ['id', 'recorded_at', 'who', 'act', 'document_kind', 'document_id', 'detail', 'change'] as const;
const events = () => build.selectFrom('event').select(eventColumns);

export const findEvent = (db: Db, id: number): TrailEvent | undefined => db.maybe(events().where('id', '=', id));

/** A page of the trail, newest first. */
export function listEvents(db: Db, filter: TrailFilter, offset: number, count: number): TrailEvent[] {
  const { who, documentKinds, document, from, until } = filter;
  let query = events().orderBy('id', 'desc').limit(count).offset(offset);
  if (who !== '') query = query.where('who', '=', who);
  if (documentKinds !== null) {
    query = query.where('document_kind', 'in', [...documentKinds]);
    // Said so that the small index without weigh-ins is used, and the whole trail not read for a few tickets.
    if (!documentKinds.includes('in_weight')) query = query.where(sql<SqlBool>`act <> 'weighed in'`);
  }
  if (from !== null) query = query.where('recorded_at', '>=', from);
  if (until !== null) query = query.where('recorded_at', '<', until);
  if (document !== null) query = query.where('id', 'in', idsAbout(document));
  return db.many(query);
}

/**
 * The lines about a document and about what belongs to it: a bin's recounts and moves, a scale's checks. Weighing in is
 * left out, as in the index that finds them: the bin's weighings have a list of their own.
 */
function idsAbout({ kind, id }: TrailDocument) {
  const of = (documentKind: string, ids: RawBuilder<unknown>) =>
    sql<SqlBool>`(document_kind = ${sql.lit(documentKind)} and document_id in (${ids}))`;
  const own = (documentKind: string) => of(documentKind, sql`${id}`);
  const photosOf = (documentKind: string) =>
    of(
      'attachment',
      sql`select id from attachment where document_kind = ${sql.lit(documentKind)} and document_id = ${id}`,
    );
  const parts: Record<TrailDocument['kind'], RawBuilder<SqlBool>[]> = {
    item: [
      own('item'),
      photosOf('item'),
      of('work', sql`select id from work where item_id = ${id}`),
      of('item_output', sql`select id from item_output where item_id = ${id}`),
      of('part_sale', sql`select id from part_sale where item_id = ${id}`),
      sql<SqlBool>`(document_kind = 'in_weight'
        and (select item_id from in_weight where in_weight.id = document_id) = ${id})`,
    ],
    bin: [
      own('bin'),
      photosOf('bin'),
      of('recount', sql`select id from recount where bin_id = ${id}`),
      of('bin_transfer', sql`select id from bin_transfer where from_bin_id = ${id} or to_bin_id = ${id}`),
      of('stripping', sql`select id from stripping where from_bin_id = ${id} or to_bin_id = ${id}`),
      sql<SqlBool>`(document_kind = 'in_weight'
        and (select bin_id from in_weight where in_weight.id = document_id) = ${id})`,
    ],
    manifest: [
      own('manifest'),
      photosOf('manifest'),
      of('manifest_line', sql`select id from manifest_line where manifest_id = ${id}`),
    ],
    ticket: [own('ticket'), photosOf('ticket')],
    yard: [
      own('yard'),
      own('yard_grade'),
      own('price_board'),
      of('yard_scale', sql`select id from yard_scale where yard_id = ${id}`),
      // One that was removed is known only by its own lines.
      sql<SqlBool>`(document_kind = 'yard_scale'
        and ${id} in (json_extract(change, '$.before.yard_id'), json_extract(change, '$.after.yard_id')))`,
    ],
    scale: [own('scale'), of('scale_check', sql`select id from scale_check where scale_id = ${id}`)],
    grade: [own('grade')],
    container: [own('container')],
    item_kind: [own('item_kind')],
    wire_kind: [own('wire_kind'), of('wire_sample', sql`select id from wire_sample where wire_kind_id = ${id}`)],
  };
  // One look into the index for each part; an OR over all of them would read the whole of it.
  const [first, ...rest] = parts[kind].map((part) =>
    build.selectFrom('event').select('event.id').where(sql<SqlBool>`act <> 'weighed in'`).where(part),
  );
  return rest.reduce((all, each) => all.unionAll(each), first as NonNullable<typeof first>);
}

/** The devices that ever did something, by name. */
export const trailDevices = (db: Db): string[] =>
  db.many(build.selectFrom('trail_device').select('who').orderBy('who')).map((row) => row.who);

/** Where a line of the trail leads: the name of its document and the address of its page. */
export interface DocumentLink {
  name: string;
  href: string;
}

/** A document as a line of the trail names it: with its weight where it is one, and the id or code of its page. */
interface NamedDocument {
  id: number;
  name: string;
  at: string | number;
  net_ug: MassUg | null;
  unit: MassUnit | null;
}

/** For each kind of document that has a page: its id, its name, and the address as the page's own id or code. */
const LINKS: Readonly<Record<string, RawBuilder<unknown>>> = {
  item: sql`select item.id, 'Item ' || item.id || ', ' || item_kind.name as name, item.id as at
    from item join item_kind on item_kind.id = item.item_kind_id`,
  work: sql`select id, 'Item ' || item_id as name, item_id as at from work`,
  item_output: sql`select id, iif(name = '', kind, name) || ' of Item ' || item_id as name, item_id as at, net_ug, unit
    from item_output`,
  part_sale: sql`select part_sale.id, coalesce(item_output.name || ' of ', '') || 'Item ' || part_sale.item_id as name,
      part_sale.item_id as at
    from part_sale left join item_output on item_output.id = part_sale.item_output_id`,
  bin: sql`select id, code as name, id as at from bin`,
  grade: sql`select id, name, id as at from grade`,
  container: sql`select id, name, id as at from container`,
  scale: sql`select id, name, id as at from scale`,
  yard: sql`select id, name, id as at from yard`,
  item_kind: sql`select id, name, id as at from item_kind`,
  yard_grade: sql`select id, name, id as at from yard`,
  price_board: sql`select id, name, id as at from yard`,
  yard_scale: sql`select yard_scale.id, yard_scale.name || ' of ' || yard.name as name, yard.id as at
    from yard_scale join yard on yard.id = yard_scale.yard_id`,
  in_weight: sql`select in_weight.id, bin.code as name, in_weight.id as at, net_ug, unit
    from in_weight join bin on bin.id = in_weight.bin_id`,
  recount: sql`select recount.id, bin.code as name, bin.code as at, net_ug, unit
    from recount join bin on bin.id = recount.bin_id`,
  bin_transfer: sql`select bin_transfer.id, source.code || ' to ' || target.code as name, source.code as at, net_ug, unit
    from bin_transfer join bin as source on source.id = from_bin_id join bin as target on target.id = to_bin_id`,
  stripping: sql`select stripping.id, source.code || ' to ' || target.code as name, source.code as at,
    before_ug as net_ug, unit
    from stripping join bin as source on source.id = from_bin_id join bin as target on target.id = to_bin_id`,
  wire_kind: sql`select id, name, id as at from wire_kind`,
  wire_sample: sql`select wire_sample.id, wire_kind.name, wire_kind.id as at
    from wire_sample join wire_kind on wire_kind.id = wire_sample.wire_kind_id`,
  quote: sql`select quote.id, grade.name, grade.id as at from quote join grade on grade.id = quote.grade_id`,
  manifest: sql`select manifest.id, 'manifest ' || number || ' for ' || yard.name as name, manifest.id as at
    from manifest join yard on yard.id = manifest.yard_id`,
  manifest_line: sql`select manifest_line.id, 'load ' || label || ' of manifest ' || number as name, manifest.id as at
    from manifest_line join manifest on manifest.id = manifest_line.manifest_id`,
  ticket: sql`select ticket.id, 'ticket ' || number || ' of ' || yard.name as name, ticket.id as at
    from ticket join yard on yard.id = ticket.yard_id`,
  attachment: sql`select id, file_name as name, id as at from attachment`,
  // All of them on one page.
  device: sql`select id, name, '' as at from device`,
  scale_check: sql`select scale_check.id, scale.name, scale.id as at
    from scale_check join scale on scale.id = scale_check.scale_id`,
};

/** Kinds whose weight stands beside their name. */
const WEIGHTS = new Set(['in_weight', 'recount', 'bin_transfer', 'stripping', 'item_output']);

const ADDRESSES: Readonly<Record<string, string>> = {
  item: '/items/',
  work: '/items/',
  item_output: '/items/',
  part_sale: '/items/',
  bin: '/setup/bins/',
  grade: '/setup/grades/',
  container: '/setup/containers/',
  item_kind: '/setup/item-kinds/',
  scale: '/setup/scales/',
  yard: '/setup/yards/',
  yard_grade: '/setup/yards/',
  price_board: '/prices/board?yard=',
  yard_scale: '/setup/yards/',
  in_weight: '/in-weights?id=',
  recount: '/bins/',
  bin_transfer: '/bins/',
  stripping: '/bins/',
  wire_kind: '/bench/wire/kinds/',
  wire_sample: '/bench/wire/kinds/',
  quote: '/prices/grades/',
  manifest: '/manifests/',
  manifest_line: '/manifests/',
  ticket: '/tickets/',
  scale_check: '/setup/scales/',
  attachment: '/photos/',
  device: '/setup/devices',
};

/** What comes after the id in an address: the page of the item on which it is put right. */
const PAGES_OF_ITEMS: Readonly<Record<string, string>> = {
  work: '/teardown#time',
  item_output: '/teardown#gave',
  part_sale: '/sales',
};

/** The documents behind some lines of the trail, by "kind id"; those that are gone or have no page are left out. */
export function documentLinks(
  db: Db,
  rows: readonly Pick<TrailEvent, 'document_kind' | 'document_id'>[],
  decimalMark: DecimalMark,
): Map<string, DocumentLink> {
  const links = new Map<string, DocumentLink>();
  for (const [kind, own] of Map.groupBy(rows, (row) => row.document_kind)) {
    const query = LINKS[kind];
    if (query === undefined) continue;
    const ids = [...new Set(own.map((row) => row.document_id))];
    const found = db.many(
      sql<NamedDocument>`select id, name, at, ${WEIGHTS.has(kind) ? sql`net_ug, unit` : sql`null as net_ug, null as unit`}
        from (${query}) where id in (${sql.join(ids)})`,
    );
    for (const { id, name, at, net_ug: netUg, unit } of found) {
      const weight = netUg === null || unit === null ? '' : `, ${writeWeight(netUg, unit, decimalMark)}`;
      const href = `${ADDRESSES[kind]}${encodeURIComponent(String(at))}${PAGES_OF_ITEMS[kind] ?? ''}`;
      links.set(`${kind} ${id}`, { name: `${name}${weight}`, href });
    }
  }
  return links;
}

/** Kinds whose rows can be removed, so that their ids may be given once more. */
const removable = [
  'item',
  'grade',
  'bin',
  'container',
  'scale',
  'yard',
  'yard_scale',
  'item_kind',
  'wire_kind',
] as const;

/**
 * Whether an id from a range was given to another row after a line of the trail: the row that the line is about was
 * removed meanwhile, and what has its id now has nothing to do with it.
 */
export function isIdGivenAgain(db: Db, since: number, kind: string, [first, last]: readonly [number, number]): boolean {
  if (!removable.some((each) => each === kind)) return false;
  const [from, to] = [`$.rows.${kind}[0]`, `$.rows.${kind}[1]`];
  const later = db.maybe(
    sql<{ id: number }>`select id from event where id > ${since} and act <> 'weighed in' and (
      (document_kind = ${kind} and document_id between ${first} and ${last} and act like 'added %')
      or (change like '{"rows"%' and json_extract(change, ${from}) <= ${last} and json_extract(change, ${to}) >= ${first}))
      limit 1`,
  );
  return later !== undefined;
}

/** Forgets that some requests were accepted, so that a file which was taken back may come in again. */
export const forgetRequests = (db: Db, keyLike: string): void => {
  db.run(build.deleteFrom('request').where('key', 'like', keyLike));
};
