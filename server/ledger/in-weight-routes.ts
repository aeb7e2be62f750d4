import type { FastifyInstance } from 'fastify';
import { type InWeightListParts, inWeightListPage } from '../../views/ledger/in-weights.ts';
import type { Ledger } from '../context.ts';
import { trailDevices } from '../history/queries.ts';
import { Reader, type Typed } from '../reading.ts';
import { ledgerOf, pageOfList, queryOf, readPeriod, sendHtml, showOf } from '../web.ts';
import { readItemNumber } from './forms.ts';
import { type InWeightFilter, listInWeights } from './in-weight-list.ts';
import { findBinByCode, listAllBins } from './queries.ts';

const FILTERS = ['id', 'bin', 'item', 'from', 'to', 'device', 'text'] as const;

/** Every weighing there ever was, by day, filtered by its address. */
export async function inWeightListRoutes(app: FastifyInstance): Promise<void> {
  app.get('/in-weights', (request, reply) => {
    const parts = readList(ledgerOf(request), queryOf(request));
    const status = Object.keys(parts.state.problems).length > 0 ? 422 : 200;
    return sendHtml(reply, inWeightListPage(showOf(request), parts), status);
  });
}

/** What cannot be read filters nothing and is said beside its field. */
function readFilter({ db }: Ledger, reader: Reader): InWeightFilter {
  const code = reader.text('bin', 'a bin');
  const bin = code === '' ? undefined : findBinByCode(db, code);
  if (code !== '' && bin === undefined) reader.problem('bin', `There is no bin ${code.slice(0, 40)}.`);
  return {
    id: reader.id('id'),
    binId: bin?.id ?? null,
    itemId: readItemNumber(reader),
    who: reader.text('device', 'a device'),
    text: reader.text('text', 'words'),
    ...readPeriod(reader),
  };
}

function readList(ledger: Ledger, query: Typed): InWeightListParts {
  const { db, settings } = ledger;
  const reader = new Reader(query, settings);
  const filter = readFilter(ledger, reader);
  const { rows, addresses } = pageOfList('/in-weights', query, FILTERS, (offset, count) =>
    listInWeights(db, filter, offset, count),
  );
  return {
    inWeights: rows,
    bins: listAllBins(db),
    devices: trailDevices(db),
    state: { typed: query, problems: reader.problems },
    ...addresses,
  };
}
