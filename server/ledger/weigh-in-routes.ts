import type { FastifyInstance } from 'fastify';
import { correctionPage } from '../../views/ledger/correction.ts';
import { understood } from '../../views/ledger/understood.ts';
import { type JustDone, weighInPage } from '../../views/ledger/weigh-in.ts';
import type { WeighInLists } from '../../views/ledger/weighing-fields.ts';
import type { Ledger } from '../context.ts';
import { findItem } from '../items/queries.ts';
import { Reader, type Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { type Container, findContainer, listContainers, listScales } from '../setup/queries.ts';
import { idIn, ledgerOf, mustFind, paramId, queryOf, sendHtml, sendKept, showOf, submit } from '../web.ts';
import { correctInWeight, type InWeightInput, recordInWeight, undoInWeight } from './acts.ts';
import { AS_USUAL, askAboutWeight, readInWeight } from './forms.ts';
import { findBinByCode, findInWeight, findInWeightWithBin, listBinsOnHand, recentInWeights } from './queries.ts';

const LAST_FIVE = 5;

/** The bench: weigh in, take back, correct. */
export async function weighInRoutes(app: FastifyInstance): Promise<void> {
  benchRoutes(app);
  correctionRoutes(app);
}

function benchRoutes(app: FastifyInstance): void {
  app.get('/weigh-in', (request, reply) =>
    sendKept(request, reply, (requestKey) => {
      const ledger = ledgerOf(request);
      const query = queryOf(request);
      const starting = startingValues(ledger, query, requestKey);
      const again = idIn(query.again);
      // One that was taken back by mistake is weighed in again as it was typed, and looked over first.
      const typed = again === 0 ? starting : { ...starting, ...typedOfInWeight(ledger, again) };
      const lists = weighInLists(ledger);
      return weighInPage(
        showOf(request),
        { ...lists, item: itemIn(ledger, typed) },
        { typed, problems: {} },
        justDone(ledger, query),
      );
    }),
  );

  // What the tool understood of the figures so far, asked for while typing.
  app.get('/weigh-in/understood', (request, reply) => {
    const ledger = ledgerOf(request);
    const reader = new Reader({ occurredOn: ledger.clock.today(), ...queryOf(request) }, ledger.settings);
    const input = readQuietly(() => readInWeight(ledger.db, reader));
    const container = usedContainer(ledger, reader, input);
    return sendHtml(reply, understood(showOf(request), input, reader, container));
  });

  app.post('/in-weights', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const input = readInWeight(ledger.db, reader);
        askAboutWeight(ledger.db, reader, input);
        const id = recordInWeight(ledger, input);
        const item = itemOf({ item_id: input.itemId ?? null });
        return `/weigh-in?${new URLSearchParams({ bin: reader.raw('bin'), ...item, done: String(id) })}`;
      },
      again(show, typed, problems) {
        const ledger = ledgerOf(request);
        return weighInPage(show, { ...weighInLists(ledger), item: itemIn(ledger, typed) }, { typed, problems });
      },
    }),
  );
}

/** Taking an in-weight back and putting it right; a refused undo is shown on the correction's page. */
function correctionRoutes(app: FastifyInstance): void {
  app.post('/in-weights/:id/undo', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const inWeight = mustFind(findInWeightWithBin(ledger.db, paramId(request)), 'in-weight');
        undoInWeight(ledger, inWeight.id, reader.ticked('bookShortfall'));
        if (reader.raw('back') === 'teardown' && inWeight.item_id !== null) {
          return `/items/${inWeight.item_id}/teardown?done=undone`;
        }
        return reader.raw('back') === 'bin'
          ? `/bins/${encodeURIComponent(inWeight.bin_code)}?done=undone`
          : `/weigh-in?${new URLSearchParams({ bin: inWeight.bin_code, ...itemOf(inWeight), done: String(inWeight.id) })}`;
      },
      again(show, typed, problems) {
        const ledger = ledgerOf(request);
        const inWeight = mustFind(findInWeightWithBin(ledger.db, paramId(request)), 'in-weight');
        return correctionPage(show, inWeight, weighInLists(ledger), {
          typed: { ...typedOfInWeight(ledger, inWeight.id), ...typed },
          problems,
        });
      },
    }),
  );

  app.get('/in-weights/:id/correction', (request, reply) => {
    const ledger = ledgerOf(request);
    const inWeight = mustFind(findInWeightWithBin(ledger.db, paramId(request)), 'in-weight');
    const typed = { ...typedOfInWeight(ledger, inWeight.id), requestKey: newRequestKey() };
    return sendHtml(reply, correctionPage(showOf(request), inWeight, weighInLists(ledger), { typed, problems: {} }));
  });

  app.post('/in-weights/:id/corrections', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const reason = reader.text('reason', 'why it is corrected', { required: true });
        const input = readInWeight(ledger.db, reader);
        correctInWeight(ledger, paramId(request), input, reason, reader.ticked('bookShortfall'));
        return `/bins/${encodeURIComponent(reader.raw('bin'))}?done=corrected`;
      },
      again(show, typed, problems) {
        const ledger = ledgerOf(request);
        const inWeight = mustFind(findInWeightWithBin(ledger.db, paramId(request)), 'in-weight');
        return correctionPage(show, inWeight, weighInLists(ledger), { typed, problems });
      },
    }),
  );
}

/** Reads a form that is not finished yet: what cannot be read simply is not there. */
function readQuietly<T>(read: () => T): T | null {
  try {
    return read();
  } catch {
    return null;
  }
}

/** The container whose tare counts: that of the reading, or, before there is one, the one usual for the bin. */
function usedContainer({ db }: Ledger, reader: Reader, input: InWeightInput | null): Container | undefined {
  const usual = reader.raw('container') === AS_USUAL ? findBinByCode(db, reader.raw('bin'))?.container_id : null;
  const id = input === null ? usual : input.containerId;
  return id == null ? undefined : findContainer(db, id);
}

const weighInLists = ({ db }: Ledger): WeighInLists => ({
  bins: listBinsOnHand(db),
  containers: listContainers(db),
  scales: listScales(db),
  recent: recentInWeights(db, LAST_FIVE),
  item: null,
});

/** The form as it opens: today, the bin asked for, and with it the container and the scale last used. */
const startingValues = ({ db, clock, settings }: Ledger, query: Typed, requestKey: string): Typed => ({
  bin: (query.bin ? findBinByCode(db, query.bin) : undefined)?.code ?? '',
  container: AS_USUAL,
  unit: settings.unit,
  scale: AS_USUAL,
  occurredOn: clock.today(),
  // Without an item the bench is what it always was.
  ...(idIn(query.item) === 0 ? {} : { item: String(idIn(query.item)) }),
  requestKey,
});

/** The item as the address keeps it: the next piece is most likely of the same one. */
const itemOf = ({ item_id }: { item_id: number | null }): Typed => (item_id === null ? {} : { item: String(item_id) });

/** The item that the next weighings come from; null for none, and for one that is not there. */
const itemIn = ({ db }: Ledger, { item }: Typed): WeighInLists['item'] =>
  (item === undefined || item === '' ? undefined : findItem(db, idIn(item))) ?? null;

/** The weighing that the address says was written down or taken back a moment ago. */
function justDone({ db }: Ledger, query: Typed): JustDone | null {
  const inWeight = findInWeightWithBin(db, idIn(query.done));
  return inWeight === undefined ? null : { inWeight, isUndone: inWeight.is_undone === 1 };
}

/** An in-weight as its form would have been typed. */
function typedOfInWeight({ db }: Ledger, id: number): Typed {
  const inWeight = mustFind(findInWeight(db, id), 'in-weight');
  const withBin = mustFind(findInWeightWithBin(db, id), 'in-weight');
  return {
    bin: withBin.bin_code,
    gross: inWeight.gross_typed,
    // A tare of nothing was never typed: left in the form it would stand against a container chosen now.
    tare: inWeight.container_id === null && inWeight.tare_ug > 0 ? inWeight.tare_typed : '',
    container: inWeight.container_id === null ? '' : String(inWeight.container_id),
    unit: inWeight.unit,
    scale: inWeight.scale_id === null ? '' : String(inWeight.scale_id),
    occurredOn: inWeight.occurred_on,
    note: inWeight.note,
    isEstimate: inWeight.is_estimate === 1 ? '1' : '',
    item: inWeight.item_id === null ? '' : String(inWeight.item_id),
  };
}
