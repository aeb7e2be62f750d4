import type { ChildProcess } from 'node:child_process';
import { once } from 'node:events';
import { dirname } from 'node:path';
import { setTimeout as wait } from 'node:timers/promises';
import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import { type BackupsParts, backupsPage, backupWork } from '../../views/backups/backups.ts';
import type { FormState } from '../../views/common/form.ts';
import { noProblems } from '../../views/common/form.ts';
import type { SafeHtml } from '../../views/html.ts';
import { disposition } from '../attachments/names.ts';
import { Refusal } from '../refusal.ts';
import { newRequestKey } from '../request-key.ts';
import { queryOf, sendHtml, showOf, submit } from '../web.ts';
import { chooseBackupFolder } from './acts.ts';
import { startApart } from './beside.ts';
import { isOnSameDisk, ownFolder } from './folder.ts';
import { readBackupFolder } from './forms.ts';
import type { Keeper } from './keeper.ts';

const PATH = '/setup/backups';
/** How long a press of a button waits for its end; the page that comes then looks further by itself. */
const PRESS_MS = 5_000;

/** Backups: when the last one was made, making and trying one, where they go, and everything in one file. */
export async function backupRoutes(app: FastifyInstance): Promise<void> {
  app.get(PATH, (request, reply) => sendHtml(reply, pageOf(request)));

  // Asked for while something is being done, so that the page says by itself when it is.
  app.get(`${PATH}/work`, (_request, reply) => sendHtml(reply, backupWork(app.tarebook.backups?.work ?? null)));

  app.post(PATH, async (request, reply) => {
    await Promise.race([keeperOf(request).make(), wait(PRESS_MS)]);
    return reply.redirect(`${PATH}?done=made`, 303);
  });

  app.post(`${PATH}/trial`, async (request, reply) => {
    await Promise.race([keeperOf(request).tryRestore(), wait(PRESS_MS)]);
    return reply.redirect(`${PATH}?done=tried`, 303);
  });

  app.post(`${PATH}/folder`, (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        onlyAtThisComputer(request);
        const keeper = keeperOf(request);
        const folder = readBackupFolder(reader, ownFolder(keeper.ledger));
        reader.done();
        chooseBackupFolder(ledger, folder);
        void keeper.look();
        return `${PATH}?done=folder`;
      },
      again: (_show, typed, problems) => pageOf(request, { typed, problems }),
    }),
  );

  app.get('/export/archive.zip', { exposeHeadRoute: false }, sendArchive);
}

function keeperOf(request: FastifyRequest): Keeper {
  const { backups } = request.server.tarebook;
  if (backups === null) throw new Refusal('not_found', '', 'This ledger is not kept, so there are no backups of it.');
  return backups;
}

/** A path decides what is written where on this computer, so it is given at the computer itself. */
function onlyAtThisComputer(request: FastifyRequest): void {
  if (request.visitor?.isAtThisComputer) return;
  throw new Refusal('not_let_in', '', 'This is done on the computer that Tarebook runs on, at its own address.');
}

function pageOf(request: FastifyRequest, again?: FormState): SafeHtml {
  const { backups } = request.server.tarebook;
  const show = showOf(request);
  if (backups === null) return backupsPage(show, null, noProblems({}));
  const state = backups.state();
  const parts: BackupsParts = {
    state,
    isSameDisk: isOnSameDisk(state.folder, backups.ledger),
    isAtThisComputer: request.visitor?.isAtThisComputer === true,
    done: queryOf(request).done ?? '',
  };
  return backupsPage(show, parts, again ?? noProblems({ folder: state.chosen, requestKey: newRequestKey() }));
}

/** Sends the archive as it is written. Until its first bytes are there, what goes wrong is said on a page. */
async function sendArchive(request: FastifyRequest, reply: FastifyReply): Promise<FastifyReply> {
  const { ledger } = keeperOf(request);
  const child = startApart({ do: 'archive', ledger, dataFolder: dirname(ledger) });
  const { stdout } = child;
  if (stdout === null) throw new Error('the process has no output');
  const failed = whyItFailed(child);
  // Whoever has all of it leaves the process to clear up by itself; whoever goes away before ends it.
  reply.raw.once('close', () => stdout.readableEnded || child.kill());
  // "Readable" is also what a stream is at its end.
  const hasBegun = await Promise.race([once(stdout, 'readable').then(() => stdout.readableLength > 0), failed]);
  if (hasBegun !== true) {
    stdout.resume();
    throw new Refusal('not_made', '', `The archive could not be made. ${(await failed) ?? ''}`);
  }
  // A process that fails half-way must not look like a whole file: the connection is cut instead.
  void failed.then((why) => why !== null && reply.raw.destroy());
  const name = `tarebook-archive-${request.server.tarebook.clock.today()}.zip`;
  return reply
    .type('application/zip')
    .header('content-disposition', disposition('attachment', name))
    .header('cache-control', 'no-store')
    .send(stdout);
}

/** What the process said when it failed; null once it has ended well. */
function whyItFailed(child: ChildProcess): Promise<string | null> {
  let said = '';
  child.stderr?.setEncoding('utf8').on('data', (text: string) => {
    said += text;
  });
  return new Promise((resolve) => {
    child.once('error', () => resolve('There is no room for one more program. Try again later.'));
    child.once('close', (code) => resolve(code === 0 ? null : said));
  });
}
