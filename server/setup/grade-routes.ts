import type { FastifyInstance } from 'fastify';
import { type GradesParts, gradePage, gradesPage } from '../../views/setup/grades.ts';
import type { Ledger } from '../context.ts';
import type { Typed } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { ledgerOf, mustFind, paramId, queryOf, sendHtml, showOf, submit } from '../web.ts';
import { saveGrade } from './acts.ts';
import { readGrade } from './forms.ts';
import { cutToPage, doneSentence } from './pages.ts';
import { findGrade, type Grade, isLedgerEmpty, listGrades } from './queries.ts';
import { removeGrade } from './removals.ts';

/** The grades of this ledger: list, add, change. */
export async function gradeRoutes(app: FastifyInstance): Promise<void> {
  app.get('/setup/grades', (request, reply) => {
    const query = queryOf(request);
    const typed = { quotedPer: 'lb', requestKey: newRequestKey() };
    return sendHtml(reply, gradesPage(showOf(request), readGrades(ledgerOf(request), query), { typed, problems: {} }));
  });

  app.post('/setup/grades', (request, reply) =>
    submit(request, reply, {
      act: (ledger, reader) => `/setup/grades?added=${saveGrade(ledger, null, readGrade(ledger.db, reader, null))}`,
      again: (show, typed, problems) => gradesPage(show, readGrades(ledgerOf(request), {}), { typed, problems }),
    }),
  );

  app.get('/setup/grades/:id', (request, reply) => {
    const { db } = ledgerOf(request);
    const grade = mustFind(findGrade(db, paramId(request)), 'grade');
    const state = { typed: typedOfGrade(grade), problems: {} };
    return sendHtml(reply, gradePage(showOf(request), grade, listGrades(db), state));
  });

  app.post('/setup/grades/:id', (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        const { id } = mustFind(findGrade(ledger.db, paramId(request)), 'grade');
        saveGrade(ledger, id, readGrade(ledger.db, reader, id));
        return `/setup/grades?saved=${id}`;
      },
      again(show, typed, problems) {
        const { db } = ledgerOf(request);
        const grade = mustFind(findGrade(db, paramId(request)), 'grade');
        return gradePage(show, grade, listGrades(db), { typed, problems });
      },
    }),
  );

  app.post('/setup/grades/:id/removal', (request, reply) =>
    submit(request, reply, {
      act(ledger) {
        removeGrade(ledger, paramId(request));
        return '/setup/grades';
      },
      again(show, _typed, problems) {
        const { db } = ledgerOf(request);
        const grade = mustFind(findGrade(db, paramId(request)), 'grade');
        return gradePage(show, grade, listGrades(db), { typed: typedOfGrade(grade), problems });
      },
    }),
  );
}

/** A grade as its form would have been typed. */
const typedOfGrade = (grade: Grade): Typed => ({
  name: grade.name,
  family: grade.family,
  quotedPer: grade.quoted_per,
  code: grade.code,
  fallsBackTo: String(grade.falls_back_to_id ?? ''),
  recognise: grade.recognise,
  spoiledBy: grade.spoiled_by,
  requestKey: newRequestKey(),
});

function readGrades({ db }: Ledger, query: Typed): GradesParts {
  const grades = listGrades(db);
  return {
    grades,
    list: cutToPage(grades, query),
    done: doneSentence(query, (id) => findGrade(db, id)?.name),
    isLedgerEmpty: isLedgerEmpty(db),
  };
}
