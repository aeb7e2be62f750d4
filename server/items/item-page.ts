import type { FastifyRequest } from 'fastify';
import type { PhotosParts } from '../../views/attachments/section.ts';
import type { ItemPageParts } from '../../views/items/item.ts';
import { type PhotoPage, photosOf } from '../attachments/taking.ts';
import type { Ledger } from '../context.ts';
import { readEarningsSection } from '../earnings/pages.ts';
import { listBinsOnHand } from '../ledger/queries.ts';
import type { Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { ledgerOf, mustFind, paramId } from '../web.ts';
import { cautionsOfKind } from './cautions.ts';
import { findItemKind } from './kind-queries.ts';
import { findItem, type ItemOfKind, inWeightsOfItem } from './queries.ts';
import { readPartSales, readTeardownSummary } from './teardown-pages.ts';

/** So many weighings stand on an item's page. */
const MOST_IN_WEIGHTS = 100;

/** The item that an address names. */
export const itemOf = (request: FastifyRequest): ItemOfKind =>
  mustFind(findItem(ledgerOf(request).db, paramId(request)), 'item');

export const photoPageOf = ({ id }: ItemOfKind): PhotoPage => ({
  documents: { kind: 'item', ids: [id] },
  path: `/items/${id}`,
});

/** What an item's page shows; also for a form of it that came back with problems. */
export function readItemPage(
  ledger: Ledger,
  item: ItemOfKind,
  query: Typed,
  photos: PhotosParts = photosOf(ledger.db, photoPageOf(item), query),
): ItemPageParts {
  const { db, clock } = ledger;
  const weighed = inWeightsOfItem(db, item.id, MOST_IN_WEIGHTS + 1);
  const kind = findItemKind(db, item.item_kind_id);
  const gradeId = kind?.as_is_grade_id ?? null;
  const bins = listBinsOnHand(db);
  const own = bins.filter((bin) => bin.grade_id === gradeId);
  return {
    item,
    cautions: cautionsOfKind({ name: item.kind_name, cautions: kind?.cautions ?? '' }, item.name),
    inWeights: weighed.slice(0, MOST_IN_WEIGHTS),
    hasMoreInWeights: weighed.length > MOST_IN_WEIGHTS,
    wholeBins: [...own, ...bins.filter((bin) => bin.grade_id !== gradeId)],
    asIsGrade: kind?.as_is_grade_name ?? null,
    teardown: readTeardownSummary(ledger, item),
    sales: readPartSales(ledger, item, {}),
    earnings: readEarningsSection(ledger, item.id),
    photos,
    done: query.done ?? '',
    starting: { bin: own[0]?.code ?? '', closedOn: clock.today(), requestKey: newRequestKey() },
  };
}
