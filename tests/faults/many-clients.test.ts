import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { afterEach, beforeEach, expect, test } from 'vitest';
import { lb } from '../helper.ts';
import { fillWithDemo } from './demo-site.ts';
import { formsIn, type PageForm } from './page-forms.ts';
import { ask, brokenIn, formBody, numberIn, type RealServer, startCommand, startServer } from './real-server.ts';
import { isThorough, measured, trials } from './trials.ts';

// Twenty clients over real sockets to the server as it is started, and commands on the same ledger beside it: every post
// counts once, nothing is lost, and nobody hears that the ledger is busy.

const CLIENTS = 20;
const POSTS = trials(6, 500);
const NOTE = 'one of many';
const BINS = ['CU1', 'CU2', 'YB1', 'YB2', 'SS1'];

let server: RealServer;
beforeEach(async () => {
  server = await startServer(fillWithDemo);
}, 120_000);
afterEach(() => server.stop());

/** What one client asked for and heard. */
interface Heard {
  statuses: Map<string, number>;
  /** Sentences of anything but success. */
  troubles: string[];
  slowestPageMs: number;
  slowestPostMs: number;
}

const newHeard = (): Heard => ({ statuses: new Map(), troubles: [], slowestPageMs: 0, slowestPostMs: 0 });

async function hear(
  heard: Heard,
  what: 'page' | 'post',
  path: string,
  form?: ReturnType<typeof formBody>,
): Promise<void> {
  const from = performance.now();
  const { status, body } = await ask(server, path, form);
  const ms = performance.now() - from;
  heard.statuses.set(`${what} ${status}`, (heard.statuses.get(`${what} ${status}`) ?? 0) + 1);
  if (what === 'page') heard.slowestPageMs = Math.max(heard.slowestPageMs, ms);
  else heard.slowestPostMs = Math.max(heard.slowestPostMs, ms);
  const text = body.replace(/<[^>]*>/g, ' ').replace(/\s+/g, ' ');
  if (status !== (what === 'page' ? 200 : 303)) heard.troubles.push(`${path} ${status}: ${text.slice(150, 500)}`);
}

/** A form of a page with some fields filled in, as a browser sends it. */
async function filledForm(page: string, url: string, typed: Readonly<Record<string, string>>) {
  const form = formsIn((await ask(server, page)).body, page).find((each) => each.url === url);
  if (form === undefined) throw new Error(`no form for ${url} on ${page}`);
  return (more: Readonly<Record<string, string>>) => filledIn(form, { ...typed, ...more });
}

/** The tick by which a person says that an unlikely reading is right stands there only once it was asked for. */
const RIGHT = ['confirm', '1'] as const;

function filledIn({ fields }: PageForm, typed: Readonly<Record<string, string>>) {
  const values = fields.map(({ name, value }) => typed[name] ?? value);
  return formBody([...fields.flatMap(({ name }, at) => sent(name, values[at] ?? null)), RIGHT]);
}

const sent = (name: string, value: string | null): [string, string][] =>
  value === null || name === 'formToken' ? [] : [[name, value]];

let keys = 0;
const newKey = (): string => {
  keys += 1;
  return `many-clients-${keys}`;
};

/** Micrograms that were weighed into each bin. */
type Weighed = Map<string, number>;

interface Job {
  weighIn: Awaited<ReturnType<typeof filledForm>>;
  addContainer: Awaited<ReturnType<typeof filledForm>>;
  weighed: Weighed;
  heard: Heard;
}

const PAGES = [
  '/',
  '/weigh-in',
  '/bins/CU2',
  '/in-weights',
  '/trail',
  '/reports/realised-prices',
  '/find?q=cu2',
  '/health',
];

async function client(number: number, job: Job): Promise<void> {
  for (let post = 0; post < POSTS; post++) {
    const bin = BINS[(number + post) % BINS.length] ?? '';
    const hundredths = 1 + ((number * 7919 + post * 104_729) % 5000);
    const gross = (hundredths / 100).toFixed(2);
    await hear(job.heard, 'post', '/in-weights', job.weighIn({ bin, gross, requestKey: newKey() }));
    job.weighed.set(bin, (job.weighed.get(bin) ?? 0) + lb(gross));
    if (post % 10 === number % 10) await hear(job.heard, 'page', PAGES[(number + post) % PAGES.length] ?? '/');
    if (post % 25 === number % 25) {
      const more = { name: `tub ${number} ${post}`, tare: '1.5', requestKey: newKey() };
      await hear(job.heard, 'post', '/setup/containers', job.addContainer(more));
    }
  }
}

const massIn = (bin: string): number =>
  numberIn(
    server,
    `select coalesce(sum(mass_ug), 0) from balance join account on account.id = account_id
     join bin on bin.id = bin_id where code = '${bin}'`,
  );
const newestInWeight = (): number => numberIn(server, 'select max(id) from in_weight');

/** Lets twenty clients weigh in, and something else go on beside them; then everything has to add up. */
async function weighTogether(beside: (isOver: () => boolean) => Promise<void>): Promise<Heard> {
  const newest = newestInWeight();
  const masses = new Map(BINS.map((bin) => [bin, massIn(bin)]));
  const alone = { container: '', tare: '0', unit: 'lb', scale: '', note: NOTE };
  const job: Job = {
    weighIn: await filledForm('/weigh-in', '/in-weights', alone),
    addContainer: await filledForm('/setup/containers', '/setup/containers', { unit: 'lb' }),
    weighed: new Map(),
    heard: newHeard(),
  };
  const from = performance.now();
  let isOver = false;
  const clients = Promise.all(Array.from({ length: CLIENTS }, (_, number) => client(number, job))).then(() => {
    isOver = true;
  });
  await Promise.all([clients, beside(() => isOver)]);
  const seconds = (performance.now() - from) / 1000;
  expect(job.heard.troubles.slice(0, 5)).toEqual([]);
  expect([server.complained(), server.process.exitCode]).toEqual(['', null]);
  expect(numberIn(server, `select count(*) from in_weight where id > ${newest} and note = '${NOTE}'`)).toBe(
    CLIENTS * POSTS,
  );
  for (const [bin, massUg] of job.weighed) expect([bin, massIn(bin) - (masses.get(bin) ?? 0)]).toEqual([bin, massUg]);
  expect(brokenIn(server)).toEqual([]);
  const said = [...job.heard.statuses].map(([what, count]) => `${count} × ${what}`).join(', ');
  measured(
    `${CLIENTS} clients with ${POSTS} weigh-ins each`,
    `${said} in ${seconds.toFixed(1)} s; slowest page ${Math.round(job.heard.slowestPageMs)} ms, slowest post ${Math.round(job.heard.slowestPostMs)} ms`,
  );
  return job.heard;
}

test('what twenty clients weigh in at once adds up to the microgram', async () => {
  await weighTogether(async () => undefined);
}, 900_000);

/** As many weighings as a file may hold, or a few of them. */
function fileOfInWeights(rows: number, mark: number): string {
  const line = (row: number) => `2025-06-0${1 + (row % 9)},FE1,0.${1 + (row % 9)},0,lb,,,bucket ${mark} ${row}`;
  const file = join(server.folder, `in-weights-${mark}.csv`);
  const header = 'occurred_on,bin,gross,tare,unit,scale,item,note';
  writeFileSync(file, [header, ...Array.from({ length: rows }, (_, row) => line(row)), ''].join('\r\n'));
  return file;
}

const EXPORTS = ['in-weights', 'loads', 'reconciliation', 'on-hand', 'shrinkage'];

test('beside it files are brought in and taken out by command, and nobody hears that the ledger is busy', async () => {
  const commands = { imports: 0, exports: 0, dry: 0 };
  const bringIn = async (isOver: () => boolean) => {
    for (let mark = 0; mark < 1 || !isOver(); mark++) {
      // The longest file comes first; then shorter ones as long as the clients go on.
      const rows = isThorough ? (mark === 0 ? 30_000 : 3000) : 800;
      const more = mark % 3 === 2 ? ['--dry-run'] : [];
      const { status, said } = await startCommand(server, 'import', 'in-weights', fileOfInWeights(rows, mark), ...more);
      expect([status, said]).toEqual([0, expect.stringMatching(more.length > 0 ? /nothing wrong/ : /imported/)]);
      commands[more.length > 0 ? 'dry' : 'imports'] += 1;
    }
  };
  const takeOut = async (isOver: () => boolean) => {
    for (let turn = 0; turn < 1 || !isOver(); turn++) {
      const { status, said } = await startCommand(server, 'export', EXPORTS[turn % EXPORTS.length] ?? '');
      expect([status, /busy/.test(said)]).toEqual([0, false]);
      commands.exports += 1;
    }
  };
  await weighTogether(async (isOver) => {
    await Promise.all([bringIn(isOver), takeOut(isOver)]);
  });
  measured('Beside them', `${commands.imports} files brought in, ${commands.dry} tried, ${commands.exports} taken out`);
}, 900_000);
