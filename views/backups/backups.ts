import { readBackupName, writeSize } from '../../server/backups/compute.ts';
import type { FoundBackup } from '../../server/backups/folder.ts';
import type { BackupState, Work } from '../../server/backups/keeper.ts';
import { localTime } from '../../server/clock.ts';
import { type FormState, problemSummary, requestKeyField, textField } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { backToSetUp } from '../setup/parts.ts';

export interface BackupsParts {
  state: BackupState;
  /** Whether backups go to the disk that the ledger is on. */
  isSameDisk: boolean;
  isAtThisComputer: boolean;
  /** What a button led back with: made, tried, folder. */
  done: string;
}

const MOST_SHOWN = 200;

/** When the last good backup was made, where they go, and how one is restored. Null parts: a ledger that is not kept. */
export function backupsPage(show: Show, parts: BackupsParts | null, folderForm: FormState): SafeHtml {
  return page({
    title: 'Backups',
    show,
    body: html`${backToSetUp}<h1>Backups</h1>
${
  parts === null
    ? html`<p>The demo ledger is thrown away at the end, so there are no backups of it. Of your own ledger one is made every day.</p>`
    : whole(show, parts, folderForm)
}`,
  });
}

const whole = (show: Show, parts: BackupsParts, folderForm: FormState) => html`${standing(show, parts)}
${folderSection(parts, folderForm)}
${listSection(show, parts.state)}
${archiveSection}
${restoreSection(parts.state)}`;

/** "25 Nov 2026, 17:57" */
const moment = (show: Show, instant: string): string => {
  const { day, time } = localTime(instant);
  return `${show.day(day)}, ${time}`;
};

function standing(show: Show, { state, done }: BackupsParts): SafeHtml {
  return html`${troubles(show, state)}
<div id="backup-work" role="status">${state.work === null ? null : backupWork(state.work)}</div>
${state.newest === null ? html`<p>There is no good backup yet. One is made by itself within an hour of the first entry.</p>` : newestLines(show, state, state.newest)}
<div class="acts">
  <form method="post" action="/setup/backups">${requestKeyField({ typed: {}, problems: {} })}
    <button class="primary">Back up now</button></form>
  ${state.newest === null ? null : html`<form method="post" action="/setup/backups/trial">${requestKeyField({ typed: {}, problems: {} })}<button>Try to restore it</button></form>`}
</div>
${state.newest === null ? null : trialLine(show, state)}
${done === 'folder' ? html`<p class="saved" role="status">The folder is chosen. Backups go to ${state.folder} from now on.</p>` : null}`;
}

/** What is being done, asked for again every two seconds until it is; then where to look. */
export const backupWork = (work: Work | null): SafeHtml =>
  work === null
    ? html`<p class="saved">It is done. <a href="/setup/backups">See how it went</a></p>`
    : html`<p class="saved" hx-get="/setup/backups/work" hx-trigger="every 2s" hx-target="#backup-work" hx-swap="innerHTML">${
        work === 'backup'
          ? html`A backup is being made and checked. You can go on working meanwhile.`
          : html`The newest backup is being restored to a file of its own, to see that it can be.`
      } <a href="/setup/backups">Look again</a></p>`;

function troubles(show: Show, { failure, isElsewhere, chosen, folder }: BackupState): SafeHtml {
  return html`${
    failure === null
      ? null
      : html`<div class="problems" role="alert"><p><b>${failure.kind === 'not good' ? 'The last backup did not hold' : 'The last backup could not be made'}</b>
  (${moment(show, failure.recorded_at)}). ${failure.sentence}</p>
  ${failure.kind === 'not good' ? html`<p>Look at the disk, run <code>npm run check</code> in Tarebook’s folder, and restore the last good backup if it does not hold either.</p>` : null}</div>`
  }${
    isElsewhere
      ? html`<div class="problems" role="alert"><p><b>${chosen} is not there.</b> Until it is back, backups go to ${folder}. Is the
  stick or disk plugged in?</p></div>`
      : null
  }`;
}

function newestLines(show: Show, { hasAll, folder }: BackupState, newest: FoundBackup): SafeHtml {
  return html`<dl class="facts">
<div><dt>Last good backup</dt><dd>${show.day(newest.day)}, ${newest.time} (${show.age(newest.day)})</dd></div>
<div><dt>Contains</dt><dd>${
    hasAll
      ? 'Everything up to now. No other one is needed until something is entered.'
      : 'Everything up to then. The next one is made by itself, once a day.'
  }</dd></div>
<div><dt>Checked</dt><dd>Yes. It was opened after it was made, and every check of the ledger was run on it.</dd></div>
<div><dt>Where</dt><dd><span class="path">${newest.file}</span>${newest.folder === folder ? null : html` (not in the chosen folder)`}</dd></div>
<div><dt>Size</dt><dd>${writeSize(newest.bytes)}</dd></div>
</dl>`;
}

function trialLine(show: Show, { trial }: BackupState): SafeHtml {
  if (trial === null) {
    return html`<p class="hint">None was tried yet. A trial changes nothing: the newest backup is restored to a
  file of its own, checked, and thrown away.</p>`;
  }
  const when = moment(show, trial.recorded_at);
  return trial.kind === 'tried'
    ? html`<p>Last tried to restore on ${when}: <b>it went well</b>. ${trial.file_name} gave back ${trial.sentence}.</p>`
    : html`<div class="problems" role="alert"><p>Last tried to restore on ${when}: <b>it failed</b>. ${trial.sentence}</p></div>`;
}

function folderSection({ state, isSameDisk, isAtThisComputer }: BackupsParts, form: FormState): SafeHtml {
  return html`<section class="way" aria-labelledby="folder"><h2 id="folder">Where they go</h2>
<p>Backups go to <span class="path">${state.folder}</span>. Tarebook keeps the newest of each of the last 7 days, 5 weeks and 12
  months, and every one from before an upgrade; of several on one day, the last. To keep one for good, name a file of your
  own: <code>npm run backup -- FILE</code>.</p>
${
  isSameDisk
    ? html`<p><b>That is the disk that the ledger is on.</b> Such copies help against mistakes, and not against a broken disk or a
  stolen computer. Choose a folder on a stick, on another disk, or one that is copied to another computer by itself.</p>`
    : null
}
${
  isAtThisComputer
    ? html`<form method="post" action="/setup/backups/folder">
  ${problemSummary(form)}${requestKeyField(form)}
  ${textField({ name: 'folder', label: 'Folder for backups', hint: 'The whole path, as the file manager shows it, such as /media/stick/tarebook or E:\\Tarebook. Leave it empty for Tarebook’s own folder.' }, form)}
  <button>Use this folder</button></form>`
    : html`<p>The folder is chosen on the computer that Tarebook runs on.</p>`
}
</section>`;
}

function listSection(show: Show, { backups, folder }: BackupState): SafeHtml | null {
  if (backups.length === 0) return null;
  return html`<section aria-labelledby="all"><h2 id="all">All backups</h2>
<div class="scroll"><table><thead><tr><th>Made</th><th class="figure">Size</th><th>What it is</th></tr></thead><tbody>
${backups.slice(0, MOST_SHOWN).map(
  (
    backup,
  ) => html`<tr><td>${show.day(backup.day)}, ${backup.time}</td><td class="figure">${writeSize(backup.bytes)}</td>
  <td>${whatItIs(backup)}${backup.folder === folder ? null : ', in Tarebook’s own folder'}<br><small class="path">${backup.fileName}</small></td></tr>`,
)}
</tbody></table></div></section>`;
}

function whatItIs({ isGood, beforeFormat }: FoundBackup): string {
  if (!isGood) return 'Does not hold: kept to look at, counts as none';
  return beforeFormat === null ? 'Good' : 'Good, from before an upgrade';
}

const archiveSection = html`<section class="way" aria-labelledby="archive"><h2 id="archive">Everything in one file</h2>
<p>The archive has the whole ledger as plain lists, the photos and papers as files, and the ledger itself. It can be read
  without Tarebook, and Tarebook can be restored from it. Passphrase and devices are not in it.</p>
<p><a class="button" href="/export/archive.zip" download>Save the archive</a></p>
</section>`;

function restoreSection({ newest, backups }: BackupState): SafeHtml {
  const example = newest ?? backups.find(({ fileName }) => readBackupName(fileName) !== null);
  return html`<section class="way" aria-labelledby="restore"><h2 id="restore">How to restore one</h2>
<p>On the computer, in Tarebook’s folder, with the path of the backup or archive:</p>
<p class="path"><code>npm run restore -- "${example?.file ?? 'FILE'}"</code></p>
<p>It is copied and checked first and then takes the ledger’s place, also while Tarebook runs. The ledger until then is kept
  beside it and can be brought back the same way. With <code>--try</code> at the end nothing is changed.</p>
</section>`;
}
