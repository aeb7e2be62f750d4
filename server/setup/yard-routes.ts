import type { FastifyInstance, FastifyRequest } from 'fastify';
import type { FormState } from '../../views/common/form.ts';
import type { Show } from '../../views/common/show.ts';
import type { SafeHtml } from '../../views/html.ts';
import type { YardScaleForm } from '../../views/setup/yard-scales.ts';
import { type YardNames, type YardsParts, yardPage, yardsPage } from '../../views/setup/yards.ts';
import type { Ledger } from '../context.ts';
import { groupByFamily } from '../ledger/families.ts';
import { amountMinor } from '../money/money.ts';
import type { Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { idIn, ledgerOf, mustFind, paramId, queryOf, sendHtml, showOf, submit } from '../web.ts';
import { nameGradesAtYard, saveYard } from './acts.ts';
import { moneyField, readYard, readYardGradeNames } from './forms.ts';
import { cutToPage, doneSentence } from './pages.ts';
import { findYard, listGrades, listYards, type Yard, yardGradeNames, yardScalesOf } from './queries.ts';
import { removeYard } from './removals.ts';

/** No form has more rows than a page may show. */
const GRADES_AT_ONCE = 200;

/** The yards: list, add, change, and what each of them calls the grades. */
export async function yardRoutes(app: FastifyInstance): Promise<void> {
  app.get('/setup/yards', (request, reply) => {
    const { db, settings } = ledgerOf(request);
    const typed = {
      unit: settings.unit,
      cashStep: moneyField(amountMinor(1), settings),
      requestKey: newRequestKey(),
    };
    return sendHtml(reply, yardsPage(showOf(request), readYards(db, queryOf(request)), { typed, problems: {} }));
  });

  app.post('/setup/yards', (request, reply) =>
    submit(request, reply, {
      act: (ledger, reader) => `/setup/yards?added=${saveYard(ledger, null, readYard(reader))}`,
      again: (show, typed, problems) => yardsPage(show, readYards(ledgerOf(request).db, {}), { typed, problems }),
    }),
  );

  app.get('/setup/yards/:id', (request, reply) =>
    sendHtml(reply, yardPageOf(request, showOf(request), queryOf(request))),
  );

  app.post('/setup/yards/:id', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const { id } = yardOf(request);
        saveYard(ledger, id, readYard(reader));
        return `/setup/yards?saved=${id}`;
      },
      again: (show, typed, problems) => yardPageOf(request, show, {}, { change: { typed, problems } }),
    }),
  );

  app.post('/setup/yards/:id/grade-names', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const { id } = yardOf(request);
        nameGradesAtYard(ledger, id, readYardGradeNames(ledger.db, reader));
        return `/setup/yards/${id}?named=1`;
      },
      again: (show, typed, problems) =>
        yardPageOf(request, show, { page: typed.page ?? '' }, { names: { typed, problems } }),
    }),
  );

  app.post('/setup/yards/:id/removal', (request, reply) =>
    submit(request, reply, {
      act(ledger) {
        removeYard(ledger, yardOf(request).id);
        return '/setup/yards';
      },
      again(show, _typed, problems) {
        const typed = typedOfYard(yardOf(request), ledgerOf(request));
        return yardPageOf(request, show, {}, { change: { typed, problems } });
      },
    }),
  );
}

/** A form of the yard's page that came back with problems. */
interface YardPageForms {
  change?: FormState;
  names?: FormState;
  scale?: YardScaleForm;
}

/** One yard: what is known of it, its further scales, what it calls the grades. @param query of the page's address */
export function yardPageOf(request: FastifyRequest, show: Show, query: Typed, forms: YardPageForms = {}): SafeHtml {
  const ledger = ledgerOf(request);
  const yard = yardOf(request);
  const names = readNames(ledger, yard, query);
  if (forms.names !== undefined) {
    const typed = { ...names.state.typed, ...forms.names.typed };
    names.state = { ...names.state, typed, problems: forms.names.problems };
  }
  return yardPage(show, {
    yard,
    change: forms.change ?? { typed: typedOfYard(yard, ledger), problems: {} },
    names,
    scales: { yard, list: yardScalesOf(ledger.db, yard.id), form: forms.scale ?? null, done: query.scale ?? '' },
  });
}

export const yardOf = (request: FastifyRequest): Yard =>
  mustFind(findYard(ledgerOf(request).db, paramId(request)), 'yard');

const readYards = (db: Ledger['db'], query: Typed): YardsParts => ({
  list: cutToPage(listYards(db), query),
  done: doneSentence(query, (id) => findYard(db, id)?.name),
  added: idIn(query.added) > 0 ? (query.added ?? null) : null,
});

/** A yard as its form would have been typed. */
const typedOfYard = (yard: Yard, { settings }: Ledger): Typed => ({
  name: yard.name,
  unit: yard.unit,
  cashStep: moneyField(yard.cash_step_minor, settings),
  scaleDivision: yard.scale_division.replace('.', settings.decimalMark),
  scaleClass: yard.scale_class,
  notes: yard.notes,
  requestKey: newRequestKey(),
});

function readNames({ db }: Ledger, yard: Yard, query: Typed): YardNames {
  const list = cutToPage(listGrades(db), query, GRADES_AT_ONCE);
  const names = yardGradeNames(db, yard.id);
  const typed: Record<string, string> = { requestKey: newRequestKey(), page: String(list.page) };
  for (const { id } of list.rows) typed[`name-${id}`] = names.get(id) ?? '';
  return {
    families: groupByFamily(list.rows),
    page: list.page,
    hasNext: list.hasNext,
    state: { typed, problems: {}, idPrefix: 'names-' },
    isSaved: query.named !== undefined,
  };
}
