import type { ChildProcess } from 'node:child_process';
import { renameSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { type Clock, localTime } from '../clock.ts';
import type { Db } from '../db/database.ts';
import { daysBetween } from '../units/day.ts';
import type { Said, Task } from './apart.ts';
import { lastSaid, startApart } from './beside.ts';
import { DAYS_WITHOUT, documentsIn, holdingsMore, notGoodName, writeHoldings } from './compute.ts';
import { removeLeftovers, whyNot } from './files.ts';
import { type FoundBackup, findBackups, ownFolder, targetFolder } from './folder.ts';
import type { MadeBackup } from './making.ts';
import { type BackupNote, chosenFolder, holdingsOf, insertNote, lastEntry, newestNote, noteOfFile } from './queries.ts';
import type { NoteKind } from './table.ts';

/** A moment after the start, so that nothing of this is in the way of the first page. */
const FIRST_LOOK_MS = 5_000;
const LOOK_MS = 60 * 60 * 1000;

/** What is being done just now. */
export type Work = 'backup' | 'trial';

/** What the page and the first page say about backups. */
export interface BackupState {
  /** Where the next one goes. */
  folder: string;
  /** The chosen folder, '' for none. */
  chosen: string;
  /** Whether the chosen folder is not there, so that they go to our own. */
  isElsewhere: boolean;
  /** What lies in that folder and in our own, the newest first. */
  backups: FoundBackup[];
  /** The newest good one. */
  newest: FoundBackup | null;
  /** Whether it has all that was entered up to now. */
  hasAll: boolean;
  /** The newest note of what went wrong, unless a backup was made since. */
  failure: Pick<BackupNote, 'kind' | 'sentence' | 'recorded_at'> | null;
  /** The last trial of restoring. */
  trial: BackupNote | null;
  work: Work | null;
}

export interface KeeperParts {
  db: Db;
  ledger: string;
  clock: Clock;
  /** Tells the person at the console. */
  log: (sentence: string) => void;
}

/** Looks after the backups of the ledger that is served. One thing at a time, each in a process of its own. */
export class Keeper {
  readonly #parts: KeeperParts;
  readonly #own: string;
  readonly #children = new Set<ChildProcess>();
  #running: Promise<void> | null = null;
  #work: Work | null = null;
  #isCopying = false;
  /** Kept here too: with a full disk the ledger takes no note. */
  #failure: BackupState['failure'] = null;
  #timers: NodeJS.Timeout[] = [];
  #reminder: string | null = null;
  #isClosed = false;

  constructor(parts: KeeperParts) {
    this.#parts = parts;
    this.#own = ownFolder(parts.ledger);
  }

  /** The ledger's file, for what is made of it elsewhere. */
  get ledger(): string {
    return this.#parts.ledger;
  }

  /** Whether the ledger's file is being read by a process of ours, so that nothing may take its place now. */
  get isCopying(): boolean {
    return this.#isCopying;
  }

  get work(): Work | null {
    return this.#work;
  }

  /** Looks now and then whether a backup is due. */
  start(): void {
    const look = () => void this.look();
    this.#timers = [setTimeout(look, FIRST_LOOK_MS), setInterval(look, LOOK_MS)];
    for (const timer of this.#timers) timer.unref();
  }

  async close(): Promise<void> {
    this.#isClosed = true;
    for (const timer of this.#timers) clearTimeout(timer);
    for (const child of this.#children) child.kill();
    await this.#running;
  }

  /** Clears up, makes today's backup where one is due, and checks what was copied before an upgrade. */
  look(): Promise<void> {
    return this.#inTurn(async () => {
      removeLeftovers(dirname(this.ledger), [this.#own, chosenFolder(this.#parts.db)]);
      if (this.#isDue()) await this.#make('daily');
      await this.#checkUpgrades();
      this.#remind();
    });
  }

  /** Makes a backup now, whatever there is. */
  make(): Promise<void> {
    return this.#inTurn(() => this.#make('by hand'));
  }

  /** Restores the newest backup to a file that is thrown away, and notes how that went. */
  tryRestore(): Promise<void> {
    return this.#inTurn(() => this.#try());
  }

  /** One sentence for the first page, null where all is well. Looked up each hour and after each backup. */
  get reminder(): string | null {
    return this.#reminder;
  }

  state(): BackupState {
    const { db } = this.#parts;
    const chosen = chosenFolder(db);
    const { folder, isElsewhere } = targetFolder(chosen, this.#own);
    const folders = folder === this.#own ? [folder] : [folder, this.#own];
    const backups = folders.flatMap(findBackups);
    const newest = backups.find(({ isGood, beforeFormat }) => isGood && beforeFormat === null) ?? null;
    return {
      folder,
      chosen,
      isElsewhere,
      backups,
      newest,
      hasAll: newest !== null && newest.folder === folder && this.#hasAll(newest),
      failure: this.#standingFailure(),
      trial: newestNote(db, ['tried', 'not restorable']) ?? null,
      work: this.#work,
    };
  }

  /** After another ledger took the place of this one: what was noted in memory is about the old one. */
  forget(): void {
    this.#failure = null;
    this.#remind();
  }

  #hasAll({ fileName }: FoundBackup): boolean {
    const { db } = this.#parts;
    return noteOfFile(db, fileName)?.last_event_id === lastEntry(db).id;
  }

  /** Once a day as long as something was entered since the last one, into the folder as it is now. */
  #isDue(): boolean {
    const { db, clock } = this.#parts;
    if (lastEntry(db).id === 0) return false;
    const { folder, newest, hasAll, failure } = this.state();
    // A ledger that is damaged gives no good copy an hour later either.
    if (failure?.kind === 'not good' && localTime(failure.recorded_at).day === clock.today()) return false;
    if (newest === null || newest.folder !== folder || failure !== null) return true;
    return newest.day !== clock.today() && !hasAll;
  }

  async #make(occasion: string): Promise<void> {
    const { db, ledger, clock } = this.#parts;
    const { folder } = targetFolder(chosenFolder(db), this.#own);
    const { time } = localTime(clock.now());
    const begun = lastEntry(db).id;
    this.#isCopying = true;
    const order = { ledger, folder, day: clock.today(), time };
    const said = await this.#apart('backup', { do: 'backup', order }, (line) => {
      if ('copied' in line) this.#isCopying = false;
    });
    if (said !== null && 'made' in said) this.#noteMade(said.made, occasion, folder);
    else this.#note('failed', { occasion, folder, last_event_id: begun, sentence: failedSentence(said) });
    this.#remind();
  }

  #noteMade({ fileName, bytes, verdict }: MadeBackup, occasion: string, folder: string, kind: NoteKind = 'made'): void {
    const isGood = verdict.found.length === 0;
    const about = { occasion, folder, file_name: fileName, byte_count: bytes, last_event_id: verdict.lastEventId };
    const sentence = isGood ? '' : `${NOT_GOOD} ${verdict.found.join(' ')}`;
    this.#note(isGood ? kind : 'not good', { ...about, sentence });
  }

  /** The copies made before an upgrade only had to be whole to begin it; here every check runs on each, once. */
  async #checkUpgrades(): Promise<void> {
    const { db } = this.#parts;
    const due = this.state().backups.filter((each) => each.isGood && each.beforeFormat !== null);
    for (const { file, fileName, folder, bytes } of due.filter((each) => noteOfFile(db, each.fileName) === undefined)) {
      const said = await this.#apart('backup', { do: 'examine', file, dataFolder: dirname(this.ledger) });
      if (said === null || !('verdict' in said)) continue;
      const isGood = said.verdict.found.length === 0;
      const name = isGood ? fileName : notGoodName(fileName);
      if (!isGood) renameSync(file, join(folder, name));
      const made = { fileName: name, bytes, verdict: said.verdict };
      this.#noteMade(made, 'before an upgrade', folder, 'checked');
    }
  }

  async #try(): Promise<void> {
    const { db, ledger } = this.#parts;
    const { newest, folder } = this.state();
    const about = { occasion: 'by hand', folder: newest?.folder ?? folder, last_event_id: lastEntry(db).id };
    if (newest === null) {
      return this.#note('not restorable', { ...about, sentence: 'There is no good backup to try yet.' });
    }
    const task: Task = { do: 'try', source: newest.file, ledger, dataFolder: dirname(ledger) };
    const said = await this.#apart('trial', task);
    const named = { ...about, file_name: newest.fileName, byte_count: newest.bytes };
    if (said === null || !('verdict' in said) || said.verdict.holdings === null) {
      return this.#note('not restorable', { ...named, sentence: failedSentence(said) });
    }
    const { holdings, lastEventId } = said.verdict;
    const since = holdingsMore(holdingsOf(db), holdings);
    const isSame = lastEventId === lastEntry(db).id;
    if (isSame && documentsIn(since) > 0) {
      const sentence = `Nothing was entered since, and yet it lacks ${writeHoldings(since)}.`;
      return this.#note('not restorable', { ...named, sentence });
    }
    const later = documentsIn(since) === 0 ? '' : `; entered since: ${writeHoldings(since)}`;
    return this.#note('tried', { ...named, last_event_id: lastEventId, sentence: writeHoldings(holdings) + later });
  }

  async #apart(work: Work, task: Task, onSaid: (said: Said) => void = () => undefined): Promise<Said | null> {
    const child = startApart(task);
    this.#children.add(child);
    this.#work = work;
    try {
      return await lastSaid(child, onSaid);
    } finally {
      this.#children.delete(child);
      this.#work = null;
      this.#isCopying = false;
    }
  }

  /** What went wrong is said on the console too. The same trouble is noted once a day, not each hour. */
  #note(
    kind: NoteKind,
    about: Pick<BackupNote, 'occasion' | 'folder' | 'last_event_id' | 'sentence'> & Partial<BackupNote>,
  ): void {
    if (this.#isClosed) return;
    const { db, clock, log } = this.#parts;
    const isBad = kind === 'failed' || kind === 'not good';
    const noted = { kind, sentence: about.sentence, recorded_at: clock.now() };
    if (isBad) this.#failure = noted;
    if (kind === 'made') this.#failure = null;
    if (isBad || kind === 'not restorable') log(`Backup: ${about.sentence}`);
    const last = newestNote(db, [kind]);
    const isSame =
      last?.sentence === about.sentence && last.recorded_at.slice(0, 10) === noted.recorded_at.slice(0, 10);
    if (kind === 'failed' && isSame) return;
    try {
      insertNote(db, { file_name: '', byte_count: null, ...about, ...noted });
    } catch (error) {
      log(`Backup: ${whyNot(error)}`);
    }
  }

  #standingFailure(): BackupState['failure'] {
    if (this.#failure !== null) return this.#failure;
    const last = newestNote(this.#parts.db, ['made', 'failed', 'not good']);
    return last === undefined || last.kind === 'made' ? null : last;
  }

  #remind(): void {
    if (!this.#isClosed) this.#reminder = reminderOf(this.state(), this.#parts.clock, lastEntry(this.#parts.db).id > 0);
  }

  /** One after the other; what is asked for while something runs follows it. */
  #inTurn(act: () => Promise<void>): Promise<void> {
    const mine = (this.#running ?? Promise.resolve())
      .then(() => (this.#isClosed ? undefined : act()))
      .catch((error: unknown) => this.#parts.log(`Backup: ${whyNot(error)}`));
    this.#running = mine;
    return mine;
  }
}

const NOT_GOOD =
  'The copy does not hold, so the ledger itself is damaged or the disk does not keep what it is given. The older backups stay.';

const failedSentence = (said: Said | null): string =>
  said !== null && 'failed' in said ? said.failed : 'It was cut off before it was done. It is tried again.';

/** What the first page says; null where all is well. */
function reminderOf(state: BackupState, clock: Clock, hasContent: boolean): string | null {
  const { failure, newest, isElsewhere, hasAll } = state;
  if (!hasContent) return null;
  if (failure?.kind === 'not good') return 'The last backup did not hold: the ledger or the disk may be damaged.';
  if (failure !== null) return `The last backup could not be made. ${failure.sentence}`;
  if (isElsewhere) return 'The folder for backups is not there, so they go to this computer’s own disk only.';
  if (newest === null) return null;
  const days = daysBetween(newest.day, clock.today());
  return days > DAYS_WITHOUT && !hasAll ? `The last good backup is ${days} days old.` : null;
}
