import { localTime } from '../../server/clock.ts';
import { isUnlikelyTime, writeDuration } from '../../server/items/minutes.ts';
import type { RunningClock, Work } from '../../server/items/work-queries.ts';
import type { Typed } from '../../server/reading.ts';
import {
  dayField,
  type FormState,
  hiddenField,
  noProblems,
  noteField,
  problemSummary,
  requestKeyField,
  textField,
} from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { wordsOf } from './name.ts';

/** The time of an item. */
export interface TimeParts {
  itemId: number;
  /** False for what left the house whole: then nothing is started. */
  isOpen: boolean;
  /** Since when it runs, and for how many seconds by now; null while it stands still. */
  clock: { startedAt: string; seconds: number } | null;
  /** Other items whose time is running too. */
  others: readonly RunningClock[];
  /** The newest times, those taken back too. */
  works: readonly Work[];
  totalSeconds: number;
  /** The time written down a moment ago, to say how it was understood; null for none. */
  justDone: Work | null;
  starting: Typed;
}

/** The forms of the time that came back. */
export interface TimeForms {
  clock?: FormState;
  minutes?: FormState;
}

export function timeSection(show: Show, parts: TimeParts, forms: TimeForms): SafeHtml {
  return html`<section id="time" class="teardown-time" aria-labelledby="time-title">
<h2 id="time-title">Time</h2>
${parts.justDone === null ? null : html`<p class="saved" role="status">${understoodAs(parts.justDone)}, written down.</p>`}
${clockForm(show, parts, forms.clock)}
<p>Together so far: <b>${writeDuration(parts.totalSeconds)}</b>${parts.clock === null ? '' : ', without what is running now'}.</p>
${otherClocks(show, parts)}
${minutesForm(parts, forms.minutes)}
${workList(show, parts)}
</section>`;
}

/** "1:15 = 1 h 15 min"; what was started and stopped is the duration alone. */
function understoodAs({ minutes_typed: typed, seconds }: Work): string {
  const duration = writeDuration(seconds);
  return typed === '' || typed === duration ? duration : `${typed} = ${duration}`;
}

const key = (failed: FormState | undefined): SafeHtml => requestKeyField(failed ?? noProblems({}));

function clockForm(show: Show, parts: TimeParts, failed: FormState | undefined): SafeHtml | null {
  const state = { ...(failed ?? noProblems({})), idPrefix: 'clock-' };
  const at = `/items/${parts.itemId}/teardown/clock`;
  if (parts.clock === null) {
    // It was stopped elsewhere meanwhile, so there is no field that the sentence could lead to.
    const said = { ...state, problems: Object.fromEntries(Object.values(state.problems).map((say) => ['', say])) };
    if (!parts.isOpen) return problemSummary(said);
    return html`<form method="post" action="${at}">${problemSummary(said)}${key(failed)}
  <button class="primary big">${parts.totalSeconds > 0 ? 'Go on' : 'Start'}</button></form>`;
  }
  const { startedAt, seconds } = parts.clock;
  const isAsked = isUnlikelyTime(seconds) || Boolean(state.typed.minutes) || state.problems.minutes !== undefined;
  return html`<form method="post" action="${at}/stop" class="clock" data-till>
  ${problemSummary(state)}${key(failed)}
  <p class="clock-running"><b>${writeDuration(Math.max(0, seconds))}</b> running since ${sinceWhen(show, startedAt)}</p>
  ${isAsked ? minutesAsked(state) : null}
  <div class="clock-buttons">
    <button class="primary big" formaction="${at}/pause">Pause</button>
    <button class="big">Stop</button>
  </div>
</form>`;
}

/** Asked for where a clock ran on by itself. */
const minutesAsked = (state: FormState): SafeHtml =>
  textField(
    {
      name: 'minutes',
      label: 'Really worked',
      hint: 'It ran for longer than a day’s work. For example 45, 1:15 or 1 h 15.',
      attributes: html`class="figure"`,
    },
    state,
  );

function sinceWhen(show: Show, instant: string): string {
  const { day, time } = localTime(instant);
  return day === show.today ? time : `${show.day(day)}, ${time}`;
}

/** Two pairs of hands, or a clock that was forgotten: said either way. */
function otherClocks(show: Show, { others }: TimeParts): SafeHtml | null {
  if (others.length === 0) return null;
  return html`<p>Running too:</p><ul class="rows">${others.map(
    (other) =>
      html`<li><a class="alone" href="/items/${other.item_id}/teardown">Item ${other.item_id}, ${wordsOf(other)}</a>
    <small>since ${sinceWhen(show, other.started_at)}</small></li>`,
  )}</ul>`;
}

/** Folded away unless it came back, or is filled in again from a time that was taken back. */
function minutesForm({ itemId, starting }: TimeParts, failed: FormState | undefined): SafeHtml {
  const state = { ...(failed ?? noProblems(starting)), idPrefix: 'minutes-' };
  const isOpen = failed !== undefined || Boolean(starting.minutes);
  return html`<details class="more" id="minutes" ${isOpen ? html`open` : null}><summary>Type minutes</summary>
<form method="post" action="/items/${itemId}/teardown/minutes" data-till>
  ${problemSummary(state)}${requestKeyField(state)}
  <div class="pair">
    ${textField({ name: 'minutes', label: 'Minutes', hint: '45, 1:15 or 1 h 15', attributes: html`class="figure" inputmode="text"` }, state)}
    ${dayField({ name: 'workedOn', label: 'Day' }, state)}
  </div>
  ${noteField({ name: 'note', label: 'Note' }, state)}
  <button>Write it down</button>
</form></details>`;
}

function workList(show: Show, { works, itemId }: TimeParts): SafeHtml | null {
  if (works.length === 0) return null;
  return html`<details class="more" ${works.length <= FEW ? html`open` : null}><summary>Each time (${String(works.length)})</summary>
<ul class="rows">${works.map(
    (work) => html`<li class="${work.is_undone ? 'undone' : ''}">
  <span class="row-main"><b>${understoodAs(work)}</b> <small>${whenWorked(show, work)}${work.note === '' ? '' : ` · ${work.note}`}${work.is_undone ? ', taken back' : ''}</small></span>
  ${
    work.is_undone
      ? html`<a class="put-right" href="/items/${itemId}/teardown?again=${work.id}#minutes">Type it again</a>`
      : html`<form method="post" action="/minutes/${work.id}/undo">${hiddenField('requestKey', `undo-work-${work.id}`)}
    <button class="quiet" aria-label="Undo ${writeDuration(work.seconds)} of ${show.day(work.worked_on)}">Undo</button></form>`
  }
</li>`,
  )}</ul></details>`;
}

/** So few stand open. */
const FEW = 4;

function whenWorked(show: Show, { worked_on: on, started_at: started }: Work): string {
  return started === null ? show.day(on) : `${show.day(on)}, from ${localTime(started).time}`;
}
