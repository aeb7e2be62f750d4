import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { PhotosParts } from '../../views/attachments/section.ts';
import { type BinPageParts, binPage } from '../../views/ledger/bin.ts';
import { type PhotoPage, photosOf, takePhotosAt } from '../attachments/taking.ts';
import type { Ledger } from '../context.ts';
import { layersOfBin } from '../layers/queries.ts';
import { Reader, type Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { readDay } from '../units/day.ts';
import { massUg } from '../units/mass.ts';
import { idIn, ledgerOf, mustFind, paramId, paramsOf, queryOf, readPeriod, sendHtml, showOf, submit } from '../web.ts';
import { recordBinTransfer, recordRecount, undoBinDocument } from './acts.ts';
import {
  binLedgerRows,
  findInWeightsByIds,
  type LedgerCursor,
  type LedgerFilter,
  ledgerDocuments,
  movedSince,
} from './bin-ledger.ts';
import { ledgerKinds } from './compute.ts';
import { readBinTransfer, readRecount } from './forms.ts';
import { type BinOnHand, balanceOf, binAccount, findBinByCode, listBinsOnHand } from './queries.ts';

const ROWS = 50;
const MOST_LAYERS = 20;

/** One bin: its ledger with the balance after each line, recount, move to another bin. */
export async function binRoutes(app: FastifyInstance): Promise<void> {
  app.get('/bins/:code', (request, reply) => {
    const ledger = ledgerOf(request);
    return sendHtml(reply, binPage(showOf(request), readBinPage(ledger, binOf(request), queryOf(request))));
  });

  app.post('/bins/:code/recounts', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const bin = binOf(request);
        recordRecount(ledger, readRecount(reader, bin.id));
        return `${addressOf(bin)}?done=recounted`;
      },
      again: (show, typed, problems) =>
        binPage(show, readBinPage(ledgerOf(request), binOf(request), {}), { recount: { typed, problems } }),
    }),
  );

  app.post('/bins/:code/transfers', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const bin = binOf(request);
        recordBinTransfer(ledger, readBinTransfer(ledger.db, reader, bin.id));
        return `${addressOf(bin)}?done=moved`;
      },
      again: (show, typed, problems) =>
        binPage(show, readBinPage(ledgerOf(request), binOf(request), {}), { move: { typed, problems } }),
    }),
  );

  takePhotosAt(app, '/bins/:code/photos', {
    page: (request) => photoPageOf(binOf(request)),
    again: (request, photos) => binPage(showOf(request), readBinPage(ledgerOf(request), binOf(request), {}, photos)),
  });

  for (const [path, kind] of [
    ['recounts', 'recount'],
    ['bin-transfers', 'bin_transfer'],
    ['strippings', 'stripping'],
  ] as const) {
    app.post(`/bins/:code/${path}/:id/undo`, (request, reply) =>
      submit(request, reply, {
        act(ledger) {
          undoBinDocument(ledger, kind, paramId(request));
          return `${addressOf(binOf(request))}?done=undone`;
        },
        again: (show, typed, problems) =>
          binPage(show, readBinPage(ledgerOf(request), binOf(request), {}), { undo: { typed, problems } }),
      }),
    );
  }
}

const photoPageOf = (bin: BinOnHand): PhotoPage => ({
  documents: { kind: 'bin', ids: [bin.id] },
  path: addressOf(bin),
});

const addressOf = (bin: BinOnHand): string => `/bins/${encodeURIComponent(bin.code)}`;
const binOf = (request: FastifyRequest): BinOnHand =>
  mustFind(findBinByCode(ledgerOf(request).db, paramsOf(request).code ?? ''), 'bin');

/** The row before which an older page of the ledger begins, from the address: "2025-03-08.123". */
function readCursor(text: string): LedgerCursor | null {
  const [day = '', id = ''] = text.split('.');
  const read = readDay(day);
  return read.ok && idIn(id) > 0 ? { day: read.value, id: idIn(id) } : null;
}

/** What the address asks for: a page of the ledger, or the lines of some days or of one kind. */
function readSelection(reader: Reader): LedgerFilter & { before: LedgerCursor | null; address: string } {
  const { from, to } = readPeriod(reader);
  const kind = reader.raw('kind');
  // Before the first line of the day after the last one asked for.
  const end = to === null ? null : { day: to, id: Number.MAX_SAFE_INTEGER };
  const filled = ['kind', 'from', 'to'].flatMap((name): [string, string][] =>
    reader.raw(name) === '' ? [] : [[name, reader.raw(name)]],
  );
  return {
    before: readCursor(reader.raw('before')) ?? end,
    from,
    kinds: Object.hasOwn(ledgerKinds, kind) ? ledgerKinds[kind as keyof typeof ledgerKinds] : null,
    address: new URLSearchParams(filled).toString(),
  };
}

function readBinPage(
  { db, clock, settings }: Ledger,
  bin: BinOnHand,
  query: Typed,
  photos: PhotosParts = photosOf(db, photoPageOf(bin), query),
): BinPageParts {
  const account = binAccount(db, bin.id);
  const reader = new Reader(query, settings);
  const selection = readSelection(reader);
  const { before, kinds, address } = selection;
  const found = binLedgerRows(db, account, before, ROWS + 1, selection);
  const rows = found.slice(0, ROWS);
  const now = balanceOf(db, account, bin.grade_id);
  let balance = before === null ? now : massUg(now - movedSince(db, account, before));
  const lines = rows.map((row) => {
    // A line that was taken back, and the line that takes it back, cancel each other: neither has a balance.
    const isGone = row.is_reversed === 1 || row.reverses_id !== null;
    // With lines left out between them, balances say nothing.
    const line = { ...row, isGone, balanceUg: isGone || kinds !== null ? null : balance };
    if (!isGone) balance = massUg(balance - row.signed_ug);
    return line;
  });
  const last = rows.at(-1);
  const inWeightIds = rows.filter((row) => row.document_kind === 'in_weight').map((row) => row.document_id);
  return {
    bin,
    lines,
    inWeights: findInWeightsByIds(db, inWeightIds),
    documents: new Map(ledgerDocuments(db, rows).map((each) => [`${each.kind} ${each.id}`, each])),
    layers: layersOfBin(db, account, MOST_LAYERS),
    done: query.done ?? '',
    older:
      found.length > ROWS && last
        ? `${addressOf(bin)}?${address === '' ? '' : `${address}&`}before=${last.occurred_on}.${last.id}`
        : null,
    isNewest: before === null,
    isFiltered: address !== '',
    filter: { typed: query, problems: reader.problems, idPrefix: 'filter-' },
    otherBins: listBinsOnHand(db).filter((other) => other.id !== bin.id),
    photos,
    starting: { occurredOn: clock.today(), unit: settings.unit, requestKey: newRequestKey() },
  };
}
