import type { FastifyInstance } from 'fastify';
import { itemEditPage, pickUpPage } from '../../views/items/form.ts';
import { type ItemPageForms, itemPage } from '../../views/items/item.ts';
import { type ItemListParts, itemListPage } from '../../views/items/list.ts';
import { takePhotosAt } from '../attachments/taking.ts';
import type { Ledger } from '../context.ts';
import { readBin } from '../ledger/forms.ts';
import { NO_MONEY } from '../money/money.ts';
import { Reader, type Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { moneyField, weightFields } from '../setup/forms.ts';
import type { Settings } from '../setup/settings.ts';
import { readWeight } from '../units/read-weight.ts';
import { idIn, ledgerOf, pageOfList, queryOf, sendHtml, showOf, submit } from '../web.ts';
import { closeItem, correctItem, type ItemInput, kindNamed, pickUp, removeItem, reopenItem } from './acts.ts';
import { type ReadPickUp, readDisposal, readEnd, readItemFilter, readPickUp } from './forms.ts';
import { itemOf, photoPageOf, readItemPage } from './item-page.ts';
import { listItemKinds } from './kind-queries.ts';
import { countWaiting, listItems } from './list.ts';
import { findItem, type ItemOfKind } from './queries.ts';

const FILTERS = ['text', 'kind', 'status', 'got', 'source', 'from', 'to'] as const;

/** What was picked up: the list, each item, and how it ended. */
export async function itemRoutes(app: FastifyInstance): Promise<void> {
  app.get('/items', (request, reply) => {
    const parts = readList(ledgerOf(request), queryOf(request));
    const status = Object.keys(parts.state.problems).length > 0 ? 422 : 200;
    return sendHtml(reply, itemListPage(showOf(request), parts), status);
  });
  app.get('/items/:id', (request, reply) =>
    sendHtml(reply, itemPage(showOf(request), readItemPage(ledgerOf(request), itemOf(request), queryOf(request)))),
  );
  takePhotosAt(app, '/items/:id/photos', {
    page: (request) => photoPageOf(itemOf(request)),
    again: (request, photos) => itemPage(showOf(request), readItemPage(ledgerOf(request), itemOf(request), {}, photos)),
  });
  pickUpRoutes(app);
  editRoutes(app);
  endRoutes(app);
}

function pickUpRoutes(app: FastifyInstance): void {
  app.get('/items/new', (request, reply) => {
    const ledger = ledgerOf(request);
    const typed = startingValues(ledger, findItem(ledger.db, idIn(queryOf(request).like)));
    return sendHtml(reply, pickUpPage(showOf(request), listItemKinds(ledger.db), { typed, problems: {} }));
  });

  app.post('/items', (request, reply) =>
    submit(request, reply, {
      act: (ledger, reader) => `/items/${pickUp(ledger, asInput(ledger, readPickUp(ledger.db, reader)))}?done=added`,
      again: (show, typed, problems) => pickUpPage(show, listItemKinds(ledgerOf(request).db), { typed, problems }),
    }),
  );
}

function editRoutes(app: FastifyInstance): void {
  app.get('/items/:id/edit', (request, reply) => {
    const ledger = ledgerOf(request);
    const item = itemOf(request);
    const state = { typed: typedOfItem(ledger, item), problems: {} };
    return sendHtml(reply, itemEditPage(showOf(request), item, listItemKinds(ledger.db), state));
  });

  app.post('/items/:id/corrections', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const item = itemOf(request);
        const read = readPickUp(ledger.db, reader);
        correctItem(ledger, item.id, asInput(ledger, read), readEnd(reader, item));
        return `/items/${item.id}?done=corrected`;
      },
      again: (show, typed, problems) =>
        itemEditPage(show, itemOf(request), listItemKinds(ledgerOf(request).db), { typed, problems }),
    }),
  );

  app.post('/items/:id/removal', (request, reply) =>
    submit(request, reply, {
      act(ledger) {
        const { id } = itemOf(request);
        removeItem(ledger, id);
        return `/items?removed=${id}`;
      },
      again(show, _typed, problems) {
        const ledger = ledgerOf(request);
        const item = itemOf(request);
        return itemEditPage(show, item, listItemKinds(ledger.db), { typed: typedOfItem(ledger, item), problems });
      },
    }),
  );
}

/** How an item ends without being taken apart, and the way back. */
function endRoutes(app: FastifyInstance): void {
  const at = (
    path: string,
    form: keyof ItemPageForms,
    act: (ledger: Ledger, item: ItemOfKind, reader: Reader) => string,
  ) =>
    app.post(`/items/:id/${path}`, (request, reply) =>
      submit(request, reply, {
        act: (ledger, reader) => act(ledger, itemOf(request), reader),
        again: (show, typed, problems) =>
          itemPage(show, readItemPage(ledgerOf(request), itemOf(request), {}), { [form]: { typed, problems } }),
      }),
    );
  at('sale-as-is', 'asIs', (ledger, { id }, reader) => {
    const bin = readBin(ledger.db, reader, 'bin');
    const closedOn = reader.day('closedOn');
    reader.done();
    closeItem(ledger, id, { status: 'as is', depth: '', closedOn, disposalMinor: NO_MONEY });
    return `/weigh-in?${new URLSearchParams({ item: String(id), bin: bin.code })}`;
  });
  at('discarding', 'discard', (ledger, { id }, reader) => {
    const disposalMinor = readDisposal(reader);
    const closedOn = reader.day('closedOn');
    reader.done();
    closeItem(ledger, id, { status: 'discarded', depth: '', closedOn, disposalMinor });
    return `/items/${id}?done=discarded`;
  });
  at('reopening', 'reopen', (ledger, { id }) => {
    reopenItem(ledger, id);
    return `/items/${id}?done=reopened`;
  });
}

/** A kind that was typed is added with the item, in the same transaction. */
function asInput(ledger: Ledger, { kind, ...read }: ReadPickUp): ItemInput {
  return { ...read, kindId: 'id' in kind ? kind.id : kindNamed(ledger, kind.name) };
}

/** The form as it opens; after a pick-up the next one is often of the same kind, from the same place. */
function startingValues({ clock, settings }: Ledger, like: ItemOfKind | undefined): Typed {
  return {
    kind: like === undefined ? '' : String(like.item_kind_id),
    got: like?.got ?? 'given',
    source: like?.source ?? '',
    unit: settings.unit,
    pickedUpOn: clock.today(),
    requestKey: newRequestKey(),
  };
}

/** An item as its form would have been typed. */
function typedOfItem({ settings }: Ledger, item: ItemOfKind): Typed {
  const cost = (minor: ItemOfKind['cost_minor'], isSaid: boolean) =>
    minor === 0 && !isSaid ? '' : moneyField(minor, settings);
  return {
    kind: String(item.item_kind_id),
    ...weightFieldsOf(item, settings),
    got: item.got,
    cost: cost(item.cost_minor, item.got === 'bought'),
    source: item.source,
    pickedUpOn: item.picked_up_on,
    proof: item.proof,
    name: item.name,
    note: item.note,
    closedOn: item.closed_on ?? '',
    depth: item.depth,
    disposal: cost(item.disposal_minor, false),
    requestKey: newRequestKey(),
  };
}

/** Its weight as it was typed, as long as that still means the same; else written anew. */
function weightFieldsOf({ weight_typed, weight_unit, weight_ug }: ItemOfKind, settings: Settings): Typed {
  if (weight_ug === null || weight_unit === '') return { weight: '', unit: settings.unit };
  const read = readWeight(weight_typed, { unit: weight_unit, decimalMark: settings.decimalMark });
  if (read.ok && read.value.massUg === weight_ug) return { weight: weight_typed, unit: weight_unit };
  const { figure, unit } = weightFields(weight_typed, weight_ug, settings);
  return { weight: figure, unit };
}

function readList(ledger: Ledger, query: Typed): ItemListParts {
  const { db, settings } = ledger;
  const reader = new Reader(query, settings);
  const filter = readItemFilter(db, reader);
  const { rows, addresses } = pageOfList('/items', query, FILTERS, (offset, count) =>
    listItems(db, filter, offset, count),
  );
  return {
    items: rows,
    kinds: listItemKinds(db),
    waiting: countWaiting(db),
    removed: idIn(query.removed),
    state: { typed: query, problems: reader.problems },
    ...addresses,
  };
}
