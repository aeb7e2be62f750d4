import { constants, setPriority } from 'node:os';
import { join } from 'node:path';
import { writeArchive } from './archive.ts';
import { examine, type Verdict } from './examining.ts';
import { whyNot, workingName } from './files.ts';
import { type BackupOrder, type MadeBackup, makeBackup } from './making.ts';
import { tryRestore } from './restoring.ts';

// A process of its own for what takes long with a large ledger: the copying, waiting for a slow stick, and every check.
// The server goes on answering meanwhile, and has all the memory back at the end.

/** What the process is asked to do: the one argument, as JSON. */
export type Task =
  | { do: 'backup'; order: BackupOrder }
  | { do: 'examine'; file: string; dataFolder: string }
  | { do: 'try'; source: string; ledger: string; dataFolder: string }
  | { do: 'archive'; ledger: string; dataFolder: string };

/** What it says, a line of JSON each: that the ledger is copied, and in the end how it went. */
export type Said = { copied: true } | { made: MadeBackup } | { verdict: Verdict } | { failed: string };

const say = (said: Said) => process.stdout.write(`${JSON.stringify(said)}\n`);

async function run(task: Task): Promise<void> {
  if (task.do === 'backup') say({ made: await makeBackup(task.order, () => say({ copied: true })) });
  if (task.do === 'examine') say({ verdict: examine(task.file, join(task.dataFolder, workingName('trying'))) });
  if (task.do === 'try') say({ verdict: (await tryRestore(task)).verdict });
  if (task.do === 'archive') {
    await writeArchive(task.ledger, join(task.dataFolder, workingName('archiving')), () => process.stdout);
  }
}

const task = JSON.parse(process.argv[2] ?? '') as Task;
setPriority(constants.priority.PRIORITY_LOW);
await run(task).catch((error: unknown) => {
  // An archive is what comes out there, so that why there is none goes elsewhere.
  if (task.do === 'archive') process.stderr.write(whyNot(error));
  else say({ failed: whyNot(error) });
  process.exitCode = 1;
});
