import { Readable } from 'node:stream';
import { setImmediate } from 'node:timers/promises';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { filesPage } from '../../views/files/files.ts';
import { type ImportPageParts, importPage } from '../../views/files/import.ts';
import type { Ledger } from '../context.ts';
import { openSnapshot } from '../db/snapshot.ts';
import { troubleOf } from '../db/trouble.ts';
import { atOnce } from '../db/turn.ts';
import { type Problems, type Typed, Unreadable } from '../reading.ts';
import { newRequestKey } from '../request-key.ts';
import { readUpload, type UploadRules } from '../uploads.ts';
import {
  bodyOf,
  idIn,
  ledgerOf,
  mustFind,
  paramsOf,
  problemsOf,
  queryOf,
  sendHtml,
  showOf,
  submit,
  waitForTurn,
} from '../web.ts';
import { countOf, type ImportReport, importFile, LARGEST_FILE, LARGEST_FILE_BYTES } from './acts.ts';
import type { ExportFile } from './exports/export.ts';
import { exportPieces, findExport, ledgerExports, reportExports } from './exports/names.ts';
import { findImportKind, importKinds } from './imports/kinds.ts';
import type { ImportKind } from './imports/rows.ts';
import { journal, journalPieces } from './journal/journal.ts';

/** A file in base64 takes a third more, and a little room is left to say that one is too large. */
const LARGEST_FIELD_BYTES = Math.ceil(LARGEST_FILE_BYTES * 1.4);
/** Longer than this, the text of a file with problems is not put back into the page. */
const LONGEST_SHOWN = 200_000;

/** An export of the ledger as it stands now, written as fast as it is taken; between two pieces others have their turn. */
function snapshotPieces(ledger: Ledger, file: ExportFile, typed: Typed): AsyncGenerator<string> {
  const snapshot = openSnapshot(ledger.db);
  try {
    return inTurns(exportPieces({ ...ledger, db: snapshot.db }, file, typed), snapshot.close);
  } catch (error) {
    snapshot.close();
    throw error;
  }
}

async function* inTurns(pieces: Iterable<string>, atEnd: () => void = () => undefined): AsyncGenerator<string> {
  try {
    for (const piece of pieces) {
      yield piece;
      await setImmediate();
    }
  } finally {
    atEnd();
  }
}

/** Files: take the ledger out, bring a file in. */
export async function fileRoutes(app: FastifyInstance): Promise<void> {
  app.get('/setup/files', (request, reply) =>
    sendHtml(
      reply,
      filesPage(showOf(request), {
        ledgerExports,
        reportExports,
        journal,
        kinds: importKinds,
        largestFile: LARGEST_FILE,
      }),
    ),
  );

  app.get('/export/:file', (request, reply) => {
    const name = /^([\w-]{1,40})\.csv$/.exec(paramsOf(request).file ?? '')?.[1] ?? '';
    const file = mustFind(findExport(name), 'file to export');
    const pieces = snapshotPieces(ledgerOf(request), file, queryOf(request));
    return reply
      .type('text/csv; charset=utf-8')
      .header('content-disposition', `attachment; filename="${name}.csv"`)
      .send(Readable.from(pieces, { objectMode: false }));
  });

  app.get(`/export/${journal.fileName}`, (request, reply) => {
    const pieces = journalPieces(ledgerOf(request), queryOf(request));
    return reply
      .type('text/plain; charset=utf-8')
      .header('content-disposition', `attachment; filename="${journal.fileName}"`)
      .send(Readable.from(inTurns(pieces), { highWaterMark: 1 }));
  });

  app.get('/import', (request, reply) => {
    const query = queryOf(request);
    const kind = findImportKind(query.kind ?? '');
    const rows = /^\d{1,7}$/.test(query.rows ?? '') ? Number.parseInt(query.rows ?? '', 10) : 0;
    const imported = kind === undefined || rows === 0 ? null : countOf(kind, rows);
    const state = { typed: { kind: kind?.name ?? '' }, problems: {} };
    const trailId = idIn(query.trail);
    return sendHtml(reply, importPage(showOf(request), { ...emptyPage, state, imported, trailId }));
  });

  app.post('/import', { config: { takesFiles: true } }, async (request, reply) => {
    const { files, refused } = await readUpload(request, RULES, ({ bytes }) => bytes);
    if (refused !== null) {
      const state = { typed: bodyOf(request), problems: problemsOf(refused) };
      return sendHtml(reply, importPage(showOf(request), { ...emptyPage, state }), 422);
    }
    const bytes = bytesOf(request, files);
    // To be checked it is tried out on the ledger. Should that be busy too long, the form comes back and says so.
    await waitForTurn(request).catch(() => undefined);
    return bodyOf(request).step === 'import'
      ? importChecked(request, reply, bytes)
      : checkUpload(request, reply, bytes);
  });
}

/** A piece is made when the one before it is on its way, and others are answered in between. */
const emptyPage: Omit<ImportPageParts, 'state'> = {
  kinds: importKinds,
  checked: null,
  imported: null,
  trailId: 0,
  largestFile: LARGEST_FILE,
};

const TOO_LARGE = `A file may have at most ${LARGEST_FILE}. Part it into several files.`;

const RULES: UploadRules = {
  field: 'text',
  files: 1,
  tooMany: 'Send one file at a time.',
  fileBytes: LARGEST_FILE_BYTES,
  tooLarge: TOO_LARGE,
  totalBytes: LARGEST_FILE_BYTES,
  tooMuch: TOO_LARGE,
  fieldBytes: LARGEST_FIELD_BYTES,
};

/** The bytes to import: those of the file, else those carried from the first step, else the text; null without any. */
function bytesOf(request: FastifyRequest, files: readonly Uint8Array[]): Uint8Array | null {
  const { content, text } = bodyOf(request);
  // A file without bytes is as good as none.
  const file = files.find((bytes) => bytes.length > 0);
  if (file !== undefined) return file;
  if (content) return Buffer.from(content, 'base64url');
  return text ? Buffer.from(text, 'utf8') : null;
}

/** First step: everything is tried and put back, and the page says what would happen. */
function checkUpload(request: FastifyRequest, reply: FastifyReply, bytes: Uint8Array | null): FastifyReply {
  const typed = bodyOf(request);
  const kind = findImportKind(typed.kind ?? '');
  const problems: Problems = {};
  if (kind === undefined) problems.kind = 'Choose what is in the file.';
  if (bytes === null) problems.text = 'Choose a file, or paste its text.';
  if (kind === undefined || bytes === null) {
    const state = { typed: keptText(typed, bytes), problems };
    return sendHtml(reply, importPage(showOf(request), { ...emptyPage, state }), 422);
  }
  const { page, status } = tryFile(request, kind, bytes, { ...typed, requestKey: newRequestKey() });
  return sendHtml(reply, importPage(showOf(request), page), status);
}

/** The page about a file that was tried and put back; when the ledger could not be tried on, the form and why. */
function tryFile(request: FastifyRequest, kind: ImportKind, bytes: Uint8Array, typed: Typed) {
  try {
    const ledger = ledgerOf(request);
    const report = atOnce(ledger.db, () => importFile(ledger, kind, bytes, true));
    return { page: checkedPage(report, typed, bytes), status: report.problems.length > 0 ? 422 : 200 };
  } catch (error) {
    const state = { typed: keptText(typed, bytes), problems: problemsOf(error) };
    return { page: { ...emptyPage, state }, status: troubleOf(error) === null ? 422 : 503 };
  }
}

/** Second step. The ledger may have changed since the file was checked, so it is checked once more as it goes in. */
function importChecked(request: FastifyRequest, reply: FastifyReply, bytes: Uint8Array | null): Promise<FastifyReply> {
  const kind = mustFind(findImportKind(bodyOf(request).kind ?? ''), 'kind of file');
  const content = bytes ?? new Uint8Array();
  return submit(request, reply, {
    act(ledger) {
      const report = importFile(ledger, kind, content, false);
      if (report.problems.length > 0) throw new Unreadable({ '': 'Something is wrong with this file.' });
      const done = { kind: kind.name, rows: String(report.rows), trail: String(report.trailId) };
      return `/import?${new URLSearchParams(done)}`;
    },
    again(show, typed, problems) {
      const { page: parts } = tryFile(request, kind, content, typed);
      // Nothing wrong with the file means that the form itself was refused, and says why.
      const isWrong = (parts.checked?.report.problems.length ?? 0) > 0;
      return importPage(show, isWrong ? parts : { ...parts, state: { ...parts.state, problems } });
    },
  });
}

function checkedPage(report: ImportReport, typed: Typed, bytes: Uint8Array): ImportPageParts {
  const isWrong = report.problems.length > 0;
  // The bytes are carried as base64: a browser would change the line ends of a text on its way back.
  const content = isWrong ? '' : Buffer.from(bytes).toString('base64url');
  const state = { typed: isWrong ? keptText(typed, bytes) : { ...typed, text: '' }, problems: {} };
  return { ...emptyPage, state, checked: { report, content } };
}

/** The form as it was sent, with a file's text in it, to be put right at once. */
function keptText(typed: Typed, bytes: Uint8Array | null): Typed {
  if (typed.text || bytes === null || bytes.length > LONGEST_SHOWN) return typed;
  return { ...typed, text: Buffer.from(bytes).toString('utf8') };
}
