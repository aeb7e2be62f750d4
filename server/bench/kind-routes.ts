import type { FastifyInstance, FastifyRequest } from 'fastify';
import { type WireKindParts, type WireKindsParts, wireKindPage, wireKindsPage } from '../../views/bench/kinds.ts';
import { noProblems } from '../../views/common/form.ts';
import type { Ledger } from '../context.ts';
import type { Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { cutToPage, doneSentence } from '../setup/pages.ts';
import { listGrades } from '../setup/queries.ts';
import { ledgerOf, mustFind, paramId, queryOf, sendHtml, showOf, submit } from '../web.ts';
import { recordSample, removeWireKind, saveWireKind, undoSample } from './acts.ts';
import { readSample, readWireKind } from './forms.ts';
import { findSample, findWireKind, listWireKinds, samplesOfKind, type WireKind } from './queries.ts';
import { whatSamplesSay } from './recovery.ts';

/** Kinds of wire and their samples: list, add, change, remove, take back. */
export async function wireKindRoutes(app: FastifyInstance): Promise<void> {
  app.get('/bench/wire/kinds', (request, reply) => {
    const parts = readKinds(ledgerOf(request), queryOf(request));
    return sendHtml(reply, wireKindsPage(showOf(request), parts, noProblems({ requestKey: newRequestKey() })));
  });

  app.post('/bench/wire/kinds', (request, reply) =>
    submit(request, reply, {
      act: (ledger, reader) =>
        `/bench/wire/kinds/${saveWireKind(ledger, null, readWireKind(ledger.db, reader))}?done=added`,
      again: (show, typed, problems) => wireKindsPage(show, readKinds(ledgerOf(request), {}), { typed, problems }),
    }),
  );

  app.get('/bench/wire/kinds/:id', (request, reply) => {
    const parts = readKind(ledgerOf(request), kindOf(request), queryOf(request));
    return sendHtml(reply, wireKindPage(showOf(request), parts));
  });

  app.post('/bench/wire/kinds/:id', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const { id } = kindOf(request);
        saveWireKind(ledger, id, readWireKind(ledger.db, reader));
        return `/bench/wire/kinds/${id}?done=saved`;
      },
      again: (show, typed, problems) =>
        wireKindPage(show, { ...readKind(ledgerOf(request), kindOf(request), {}), change: { typed, problems } }),
    }),
  );

  app.post('/bench/wire/kinds/:id/removal', (request, reply) =>
    submit(request, reply, {
      act(ledger) {
        removeWireKind(ledger, kindOf(request).id);
        return '/bench/wire/kinds?removed=1';
      },
      again: (show, typed, problems) =>
        wireKindPage(show, { ...readKind(ledgerOf(request), kindOf(request), {}), undo: { typed, problems } }),
    }),
  );

  app.post('/bench/wire/kinds/:id/samples', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const { id } = kindOf(request);
        recordSample(ledger, readSample(reader, id));
        return `/bench/wire/kinds/${id}?done=sampled`;
      },
      again: (show, typed, problems) =>
        wireKindPage(show, { ...readKind(ledgerOf(request), kindOf(request), {}), sample: { typed, problems } }),
    }),
  );

  app.post('/wire-samples/:id/undo', (request, reply) =>
    submit(request, reply, {
      act(ledger) {
        const sample = mustFind(findSample(ledger.db, paramId(request)), 'sample');
        undoSample(ledger, sample.id);
        return `/bench/wire/kinds/${sample.wire_kind_id}?done=undone`;
      },
      again(show, typed, problems) {
        const ledger = ledgerOf(request);
        const sample = mustFind(findSample(ledger.db, paramId(request)), 'sample');
        const kind = mustFind(findWireKind(ledger.db, sample.wire_kind_id), 'kind of wire');
        return wireKindPage(show, { ...readKind(ledger, kind, {}), undo: { typed, problems } });
      },
    }),
  );
}

const kindOf = (request: FastifyRequest): WireKind =>
  mustFind(findWireKind(ledgerOf(request).db, paramId(request)), 'kind of wire');

function readKinds({ db }: Ledger, query: Typed): WireKindsParts {
  const done = query.removed === undefined ? doneSentence(query, (id) => findWireKind(db, id)?.name) : 'It is removed.';
  return { list: cutToPage(listWireKinds(db), query), grades: listGrades(db), done };
}

const DONE: Readonly<Record<string, string>> = {
  added: 'The kind of wire is added.',
  saved: 'Saved.',
  sampled: 'The sample is saved.',
  undone: 'The sample is taken back. It no longer counts.',
};

function readKind({ db, clock, settings }: Ledger, kind: WireKind, query: Typed): WireKindParts {
  const samples = samplesOfKind(db, kind.id);
  const done = query.done ?? '';
  const requestKey = newRequestKey();
  const own = { name: kind.name, grade: String(kind.grade_id), bareGrade: String(kind.bare_grade_id), note: kind.note };
  return {
    kind,
    grades: listGrades(db),
    list: cutToPage(samples.toReversed(), query),
    said: whatSamplesSay(samples),
    done: Object.hasOwn(DONE, done) ? (DONE[done] ?? null) : null,
    change: noProblems({ ...own, requestKey }),
    sample: noProblems({ sampledOn: clock.today(), unit: settings.unit, requestKey: newRequestKey() }),
  };
}
