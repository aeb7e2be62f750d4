import type { Attachment } from '../../server/attachments/queries.ts';
import type { Load } from '../../server/manifests/queries.ts';
import { amountMinor } from '../../server/money/money.ts';
import type { LineQuote, TicketEntry } from '../../server/tickets/entry.ts';
import { loadsNamed, typedLines } from '../../server/tickets/line-changes.ts';
import type { RunningAudit } from '../../server/tickets/questions.ts';
import { paymentKinds } from '../../server/tickets/table.ts';
import { isMassUnit, type MassUg, type MassUnit, sumMass } from '../../server/units/mass.ts';
import { photosBeside } from '../attachments/section.ts';
import {
  type Choice,
  choiceField,
  dayField,
  type FormState,
  hiddenField,
  massUnitChoices,
  noteField,
  numberField,
  problemSummary,
  requestKeyField,
  textField,
} from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { runningAudit } from './findings.ts';

/** What a change of the lines leaves to say, and the field to go on with. */
export interface LineNews {
  said: string;
  focus: string;
}

export interface TicketFormParts {
  entry: TicketEntry;
  state: FormState;
  running: RunningAudit;
  /** By line: its quote, where that is not the price that stands there. */
  quotes: readonly (LineQuote | null)[];
  /** To type from. */
  photos: readonly Attachment[];
  news?: LineNews;
  /** Whether the form was just begun: then what this device still has of an earlier time is offered. */
  isNew?: boolean;
}

/** The name under which a device keeps what is typed into the form, until the ticket is saved. */
export const draftName = ({ replaced, manifest }: TicketEntry): string =>
  replaced === null ? `ticket-of-manifest-${manifest?.id ?? 'none'}` : `ticket-in-place-of-${replaced.id}`;

const MEASURE_UNITS: readonly Choice[] = [...massUnitChoices, { value: 'each', label: 'pieces' }];
const PRICE_UNITS: readonly Choice[] = [...massUnitChoices, { value: 'each', label: 'piece' }];

/** Right as a rule, so that Enter passes it over on its way through the figures. */
const TILL_SKIP = html`data-till-skip`;

/** A figure that may have a minus, which the decimal keypad of a phone does not offer. */
const SIGNED = html`inputmode="text" class="figure"`;

/** The ticket as printed: head, one block for each line, foot. */
export function ticketFormPage(show: Show, parts: TicketFormParts): SafeHtml {
  const { entry, state } = parts;
  const title = entry.replaced === null ? 'Enter a ticket' : `Replace ticket ${entry.replaced.number}`;
  return page({
    title,
    show,
    body: html`<h1>${title}</h1>
${whichManifest(show, entry)}
${photosBeside(show, parts.photos)}
<form method="post" action="/tickets/check" id="ticket-form" class="ticket-form" data-till
  data-draft="${draftName(entry)}" ${parts.isNew ? html`data-draft-new` : null}>
  <button class="away" tabindex="-1" aria-hidden="true">Check the ticket</button>
  ${problemSummary(withLineNames(state))}
  ${requestKeyField(state)}
  ${hiddenField('lineCount', String(typedLines(state.typed).length))}
  ${entry.replaced === null ? null : replacementFields(entry.replaced.id, state)}
  ${head(parts)}
  <div class="ticket-sides">
    <div>
      <p class="news" role="status">${parts.news?.said ?? ''}</p>
      ${typedLines(state.typed).map((_, index) => lineBlock(show, parts, index + 1))}
      <p class="acts">${changeButton('add', 'Add a line')}</p>
      ${foot(show, parts)}
    </div>
    ${runningPart(show, parts)}
  </div>
  <p class="acts"><button class="primary">Check the ticket</button></p>
  <p class="hint">Nothing is saved yet: the next page shows the whole ticket once more.</p>
</form>`,
  });
}

function whichManifest(show: Show, { manifest, openLoads, replaced }: TicketEntry): SafeHtml {
  if (manifest === undefined) return html`<p>This ticket is for no manifest yet. Choose it below.</p>`;
  const loaded = manifest.loaded_on === null ? 'not loaded' : `loaded ${show.day(manifest.loaded_on)}`;
  const none =
    openLoads.length > 0 || replaced !== null
      ? null
      : html`<p class="saved">Every load of this manifest is on a
  ticket or back in its bin. To put a ticket right, open it and replace it.</p>`;
  return html`<p>For <a href="/manifests/${manifest.id}">manifest ${manifest.number}</a> to ${manifest.yard_name}, ${loaded}.
  Type what the paper says and leave empty what it does not
  print. A deduction is a weight, or a percent such as 5%.</p>${none}`;
}

const replacementFields = (
  replacedId: number,
  state: FormState,
): SafeHtml => html`${hiddenField('replaces', String(replacedId))}
  ${textField({ name: 'reason', label: 'Why it is replaced', hint: 'For example: typed a wrong net, the yard printed a new ticket.' }, state)}`;

/** The summary is read apart from the lines, so there each sentence says which line it is about. */
function withLineNames(state: FormState): FormState {
  const problems = Object.entries(state.problems).map(([name, sentence]) => {
    const lineNo = /-(\d+)$/.exec(name)?.[1];
    return [name, lineNo === undefined ? sentence : `Line ${lineNo}: ${sentence}`];
  });
  return { ...state, problems: Object.fromEntries(problems) };
}

/** Number and day. The manifest says which yard it is; both are asked for only when they do not fit together. */
function head({ entry, state }: TicketFormParts): SafeHtml {
  const isOpen = entry.manifest === undefined || Boolean(state.problems.manifest || state.problems.yard);
  return html`${isOpen ? manifestChoices(entry, state) : [hiddenField('manifest', state.typed.manifest ?? ''), hiddenField('yard', state.typed.yard ?? '')]}
  <div class="pair">
    ${textField({ name: 'number', label: 'Ticket number' }, state)}
    ${dayField({ name: 'soldOn', label: 'Day sold' }, state)}
  </div>`;
}

function manifestChoices({ manifests, yards, manifest }: TicketEntry, state: FormState): SafeHtml {
  const own =
    manifest === undefined ? [] : [{ id: manifest.id, number: manifest.number, yard_name: manifest.yard_name }];
  const offered = [...own, ...manifests.filter(({ id }) => id !== manifest?.id)];
  return html`<div class="pair">
    ${choiceField(
      {
        name: 'manifest',
        label: 'Manifest',
        none: 'Choose a manifest',
        choices: offered.map(({ id, number, yard_name }) => ({ value: String(id), label: `${number} · ${yard_name}` })),
      },
      state,
    )}
    ${choiceField(
      {
        name: 'yard',
        label: 'Yard',
        none: 'The manifest’s yard',
        choices: yards.map(({ id, name }) => ({ value: String(id), label: name })),
      },
      state,
    )}
  </div>`;
}

/** A button that changes the lines: works as it is, and swaps just the form where scripts run. */
const changeButton = (change: string, label: string, spoken = label): SafeHtml =>
  html`<button class="quiet" name="change" value="${change}" formaction="/tickets/lines" hx-post="/tickets/lines"
    hx-target="#ticket-form" hx-select="#ticket-form" hx-swap="outerHTML" aria-label="${spoken}">${label}</button>`;

const autofocus = (news: LineNews | undefined, name: string) => (news?.focus === name ? html`autofocus` : html``);

function lineBlock(show: Show, { entry, state, news, quotes }: TicketFormParts, lineNo: number): SafeHtml {
  const at = (field: string) => `${field}-${lineNo}`;
  const number = (field: string, label: string, more: { hint?: SafeHtml; letters?: boolean } = {}) =>
    numberField({ name: at(field), label, attributes: autofocus(news, at(field)), ...more }, state);
  const grades = entry.grades.map(({ id, name }) => {
    const own = entry.yardNames.get(id);
    return { value: String(id), label: own === undefined ? name : `${name} (“${own}”)` };
  });
  return html`<fieldset class="ticket-line" id="line-${lineNo}"><legend>Line ${lineNo}</legend>
  <div class="line-what">
    ${choiceField({ name: at('paidAs'), label: 'Paid as', choices: grades, none: 'Choose a grade', attributes: html`data-till-skip ${autofocus(news, at('paidAs'))}` }, state)}
    ${loadTicks(entry, state, lineNo)}
  </div>
  <div class="measures">
    ${number('gross', 'Gross', { hint: homeHint(show, entry, state, lineNo) })}
    ${number('tare', 'Tare')}
    ${number('deduction', 'Deduction', { letters: true })}
    ${number('net', 'Net')}
    ${number('price', 'Price', { hint: quoteHint(show, state, quotes, lineNo) })}
    ${number('amount', 'Amount')}
    ${choiceField({ name: at('unit'), label: 'Unit', choices: MEASURE_UNITS, attributes: TILL_SKIP }, state)}
    ${choiceField({ name: at('per'), label: 'Price per', choices: PRICE_UNITS, attributes: TILL_SKIP }, state)}
    ${textField({ name: at('description'), label: 'Printed as', attributes: TILL_SKIP }, state)}
  </div>
  <p class="acts">
    ${changeButton(`split:${lineNo}`, 'Split', `Split line ${lineNo}: part of it was paid otherwise`)}
    ${lineNo === 1 ? null : changeButton(`join:${lineNo}`, `Join with line ${lineNo - 1}`)}
    ${changeButton(`remove:${lineNo}`, 'Remove', `Remove line ${lineNo}`)}
  </p>
</fieldset>`;
}

/** The loads that the line pays for. What was ticked stays visible even when it may not be ticked. */
function loadTicks({ loads, openLoads }: TicketEntry, state: FormState, lineNo: number): SafeHtml {
  const name = `loads-${lineNo}`;
  const typed = state.typed[name] ?? '';
  const { found, unknown } = loadsNamed(loads, typed);
  const offered = loads.filter((load) => openLoads.includes(load) || found.includes(load));
  const problem = state.problems[name];
  return html`<div class="field load-ticks ${problem === undefined ? '' : 'has-problem'}" role="group"
    aria-labelledby="label-${name}" id="f-${name}" tabindex="-1" ${problem === undefined ? null : html`aria-describedby="f-${name}-problem"`}>
  <span class="group-label" id="label-${name}">Pays for load</span>
  <div class="ticks">${offered.map((load) => loadTick(name, load, found.includes(load)))}
  ${unknown === '' ? null : html`<label class="load-tick"><input type="checkbox" name="${name}" value="${unknown}" checked> ${unknown.slice(0, 40)}</label>`}
  ${offered.length === 0 && unknown === '' ? html`<span class="hint">none is waiting</span>` : null}</div>
  ${problem === undefined ? null : html`<p class="problem" id="f-${name}-problem">${problem}</p>`}
</div>`;
}

const loadTick = (name: string, load: Load, isTicked: boolean): SafeHtml =>
  html`<label class="load-tick" title="${load.bin_code}, ${load.grade_name}"><input type="checkbox" name="${name}"
    value="${load.label}" ${isTicked ? html`checked` : null}> ${load.label} <small>${load.bin_code}</small></label>`;

/** The home weight of what the line pays for, to hold against the yard's. Kept in step while typing. */
function homeHint(show: Show, entry: TicketEntry, state: FormState, lineNo: number, swap?: SafeHtml): SafeHtml {
  const { found } = loadsNamed(entry.loads, state.typed[`loads-${lineNo}`] ?? '');
  const typedUnit = state.typed[`unit-${lineNo}`] ?? '';
  const unit: MassUnit = isMassUnit(typedUnit) ? typedUnit : (entry.yard?.unit ?? show.settings.unit);
  const home = sumMass(found.map((load) => load.mass_ug as MassUg));
  return html`<span id="home-${lineNo}" ${swap}>${found.length === 0 ? 'no load' : `home net: ${show.weight(home, unit)}`}</span>`;
}

/** The quote of a line that stands at another price, as when "paid as" was changed. Kept in step while typing. */
function quoteHint(
  show: Show,
  state: FormState,
  quotes: readonly (LineQuote | null)[],
  lineNo: number,
  swap?: SafeHtml,
): SafeHtml {
  const quote = quotes[lineNo - 1] ?? null;
  const per = quote === null || quote.per === state.typed[`per-${lineNo}`] ? '' : ` per ${quote.per}`;
  return html`<span id="quote-${lineNo}" ${swap}>${quote === null ? '' : `quote ${show.digits(quote.price)}${per}`}</span>`;
}

function foot(show: Show, { entry, state }: TicketFormParts): SafeHtml {
  const step = amountMinor(entry.yard?.cash_step_minor ?? 1);
  const rounds =
    step > 1 ? `${entry.yard?.name ?? 'The yard'} rounds cash to ${show.money(step)}.` : 'When paid in cash.';
  const kinds = paymentKinds.map((kind) => ({ value: kind, label: kind }));
  return html`<fieldset class="ticket-foot"><legend>Foot of the ticket</legend>
  <div class="measures">
    ${numberField({ name: 'charges', label: 'Charges', hint: 'taken off' }, state)}
    ${textField({ name: 'tax', label: 'Tax', hint: 'added; a minus takes it off', attributes: SIGNED }, state)}
    ${choiceField({ name: 'paidBy', label: 'Paid by', choices: kinds }, state)}
    ${textField({ name: 'cashRounding', label: 'Cash rounding', hint: rounds, attributes: SIGNED }, state)}
    ${numberField({ name: 'total', label: 'Total paid' }, state)}
  </div>
  ${noteField({ name: 'note', label: 'Note' }, state)}
</fieldset>`;
}

const OUT_OF_BAND = html`hx-swap-oob="true"`;

/** The running sums and questions, brought up to date while typing. */
const runningPart = (show: Show, { running }: TicketFormParts): SafeHtml => html`<aside class="running-audit">
  <div id="audit" aria-live="polite" hx-post="/tickets/audit" hx-trigger="change from:#ticket-form delay:300ms"
    hx-sync="replace" hx-swap="innerHTML">${runningAudit(show, running)}</div>
</aside>`;

/** The fragment of the running audit: sums and questions, and for every line its home weight and its quote. */
export const auditFragment = (show: Show, { entry, state, running, quotes }: TicketFormParts): SafeHtml =>
  html`${runningAudit(show, running)}
${typedLines(state.typed).map((_, index) => [
  homeHint(show, entry, state, index + 1, OUT_OF_BAND),
  quoteHint(show, state, quotes, index + 1, OUT_OF_BAND),
])}`;
