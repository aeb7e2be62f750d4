import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { FormState } from '../../views/common/form.ts';
import type { Show } from '../../views/common/show.ts';
import type { SafeHtml } from '../../views/html.ts';
import { type BinsParts, binChangePage, binsPage } from '../../views/setup/bins.ts';
import type { Ledger } from '../context.ts';
import { type BinOnHand, findBin, isBinUsed, listAllBins } from '../ledger/queries.ts';
import type { Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { ledgerOf, mustFind, paramId, queryOf, sendHtml, showOf, submit } from '../web.ts';
import { addBin, changeBin, closeBin, removeBin, reopenBin } from './acts.ts';
import { readBinChange, readNewBin, weightFields } from './forms.ts';
import { cutToPage, doneSentence } from './pages.ts';
import { listContainers, listGrades } from './queries.ts';
import type { Settings } from './settings.ts';

/** The bins of this ledger: list, add several in a row, change, close and open again. */
export async function binSetupRoutes(app: FastifyInstance): Promise<void> {
  app.get('/setup/bins', (request, reply) => {
    const ledger = ledgerOf(request);
    const typed = { fullMarkUnit: ledger.settings.unit, requestKey: newRequestKey() };
    return sendHtml(reply, binsPage(showOf(request), readBins(ledger, queryOf(request)), { typed, problems: {} }));
  });

  app.post('/setup/bins', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const bin = readNewBin(ledger.db, reader, ledger.clock.today());
        return `/setup/bins?added=${addBin(ledger, bin)}`;
      },
      again: (show, typed, problems) => binsPage(show, readBins(ledgerOf(request), {}), { typed, problems }),
    }),
  );

  app.get('/setup/bins/:id', (request, reply) => {
    const ledger = ledgerOf(request);
    const bin = binOf(request);
    const typed = typedOfBin(bin, ledger.settings);
    return sendHtml(reply, changePage(request, showOf(request), { typed, problems: {} }));
  });

  app.post('/setup/bins/:id', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const { id } = binOf(request);
        changeBin(ledger, id, readBinChange(ledger.db, reader));
        return `/setup/bins?saved=${id}`;
      },
      again: (show, typed, problems) => changePage(request, show, { typed, problems }),
    }),
  );

  for (const [path, act, done] of [
    ['close', closeBin, 'closed'],
    ['reopen', reopenBin, 'opened'],
    ['removal', removeBin, 'removed'],
  ] as const) {
    app.post(`/setup/bins/:id/${path}`, (request, reply) =>
      submit(request, reply, {
        act(ledger) {
          const { id } = binOf(request);
          act(ledger, id);
          return `/setup/bins?${done}=${id}`;
        },
        again(show, _typed, problems) {
          const ledger = ledgerOf(request);
          const bin = binOf(request);
          const typed = typedOfBin(bin, ledger.settings);
          return changePage(request, show, { typed, problems });
        },
      }),
    );
  }
}

function changePage(request: FastifyRequest, show: Show, state: FormState): SafeHtml {
  const { db } = ledgerOf(request);
  const bin = binOf(request);
  return binChangePage(show, { bin, containers: listContainers(db), isUsed: isBinUsed(db, bin.id) }, state);
}

const binOf = (request: FastifyRequest): BinOnHand => mustFind(findBin(ledgerOf(request).db, paramId(request)), 'bin');

function readBins({ db }: Ledger, query: Typed): BinsParts {
  return {
    grades: listGrades(db),
    containers: listContainers(db),
    list: cutToPage(listAllBins(db), query),
    done: doneSentence(query, (id) => findBin(db, id)?.code),
    isAdding: query.added !== undefined,
  };
}

/** A bin as its form would have been typed. */
function typedOfBin(bin: BinOnHand, settings: Settings): Typed {
  const fullMark =
    bin.full_mark_ug === null
      ? { figure: '', unit: settings.unit }
      : weightFields(bin.full_mark_typed, bin.full_mark_ug, settings);
  return {
    code: bin.code,
    place: bin.place,
    container: String(bin.container_id ?? ''),
    fullMark: fullMark.figure,
    fullMarkUnit: fullMark.unit,
    requestKey: newRequestKey(),
  };
}
