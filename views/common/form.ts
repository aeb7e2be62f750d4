import { priceUnits } from '../../server/prices/compute.ts';
import type { Problems, Typed } from '../../server/reading.ts';
import { newRequestKey } from '../../server/request-key.ts';
import { massUnits } from '../../server/units/mass.ts';
import { html, type SafeHtml } from '../html.ts';

/** What a form shows: what was typed so far, and what was wrong with it. */
export interface FormState {
  typed: Typed;
  problems: Problems;
  /** Begins the ids of the fields, where a page has more than one form. */
  idPrefix?: string;
}

export const noProblems = (typed: Typed): FormState => ({ typed, problems: {} });

interface Field {
  name: string;
  label: string;
  hint?: SafeHtml | string;
  /** Attributes for the input, for example an htmx trigger. */
  attributes?: SafeHtml;
  required?: boolean;
}

const idOf = ({ idPrefix = '' }: FormState, name: string) => `f-${idPrefix}${name}`;

/** The frame of a field: label, input, hint, and the problem beside it, tied together for screen readers. */
function fieldFrame({ name, label, hint }: Field, state: FormState, input: SafeHtml): SafeHtml {
  const problem = state.problems[name];
  return html`<div class="field ${problem === undefined ? '' : 'has-problem'}">
  <label for="${idOf(state, name)}">${label}</label>
  ${input}
  ${hint === undefined ? null : html`<p class="hint" id="${idOf(state, name)}-hint">${hint}</p>`}
  ${problem === undefined ? null : html`<p class="problem" id="${idOf(state, name)}-problem">${problem}</p>`}
</div>`;
}

/** Ties an input to its hint and its problem. */
function described({ name, hint }: Pick<Field, 'name' | 'hint'>, state: FormState): SafeHtml {
  const { problems } = state;
  const ids = [
    hint === undefined ? null : `${idOf(state, name)}-hint`,
    problems[name] && `${idOf(state, name)}-problem`,
  ].filter(Boolean);
  return html`${problems[name] === undefined ? null : html` aria-invalid="true"`}${
    ids.length === 0 ? null : html` aria-describedby="${ids.join(' ')}"`
  }`;
}

const typedValue = ({ typed }: FormState, name: string) => typed[name] ?? '';

export function textField(field: Field, state: FormState): SafeHtml {
  const input = html`<input id="${idOf(state, field.name)}" name="${field.name}" value="${typedValue(state, field.name)}"
    autocomplete="off" ${field.required ? html`required` : null} ${field.attributes}${described(field, state)}>`;
  return fieldFrame(field, state, input);
}

/**
 * A phone's figure pad has no letters, no percent and often no minus: this button, shown where there is a screen to tap, brings the
 * whole keyboard up for "3 lb 7 oz" or "5%".
 */
const lettersButton = (state: FormState, { name, label }: Field): SafeHtml =>
  html`<button type="button" class="letters" data-letters="${idOf(state, name)}"
    aria-label="abc: letters for ${label}" tabindex="-1">abc</button>`;

/** A weight, price, amount or count: never type=number, which drops what it cannot read. */
export function numberField(field: Field & { letters?: boolean }, state: FormState): SafeHtml {
  const input = html`${field.letters ? lettersButton(state, field) : null}<input id="${idOf(state, field.name)}" name="${field.name}" value="${typedValue(state, field.name)}"
    inputmode="decimal" class="figure" autocomplete="off" ${field.required ? html`required` : null}
    ${field.attributes}${described(field, state)}>`;
  return fieldFrame(field, state, input);
}

/** A day. The browser's own day field, which sends ISO dates; older ones take the same text. */
export function dayField(field: Field, state: FormState): SafeHtml {
  const input = html`<input id="${idOf(state, field.name)}" name="${field.name}" type="date"
    value="${typedValue(state, field.name)}" ${field.attributes}${described(field, state)}>`;
  return fieldFrame(field, state, input);
}

/** A passphrase: hidden while it is typed, and never sent back in a page. */
export function passphraseField(field: Field, state: FormState): SafeHtml {
  const input = html`<input id="${idOf(state, field.name)}" name="${field.name}" type="password" autocapitalize="none"
    spellcheck="false" ${field.attributes}${described(field, state)}>`;
  return fieldFrame(field, state, input);
}

export function noteField(field: Field, state: FormState): SafeHtml {
  const input = html`<textarea id="${idOf(state, field.name)}" name="${field.name}" rows="2"
    ${field.attributes}${described(field, state)}>${typedValue(state, field.name)}</textarea>`;
  return fieldFrame(field, state, input);
}

export interface Choice {
  value: string;
  label: string;
  /** Choices that follow each other with the same group stand under its name. */
  group?: string;
}

const option = ({ value, label }: Choice, chosen: string): SafeHtml =>
  html`<option value="${value}" ${value === chosen ? html`selected` : null}>${label}</option>`;

function options(choices: readonly Choice[], chosen: string): SafeHtml[] {
  const groups = [...new Set(choices.map((choice) => choice.group))];
  return groups.map((group) => {
    const members = choices.filter((choice) => choice.group === group).map((choice) => option(choice, chosen));
    return group === undefined ? html`${members}` : html`<optgroup label="${group}">${members}</optgroup>`;
  });
}

/** A list to choose from. `none` is the text of the empty choice; leave it out when one must be chosen already. */
export function choiceField(field: Field & { choices: readonly Choice[]; none?: string }, state: FormState): SafeHtml {
  const chosen = typedValue(state, field.name);
  // What was typed or sent stays visible even when it is not on the list.
  const isUnknown = chosen !== '' && !field.choices.some((choice) => choice.value === chosen);
  const input = html`<select id="${idOf(state, field.name)}" name="${field.name}" ${field.attributes}${described(field, state)}>
    ${field.none === undefined ? null : html`<option value="">${field.none}</option>`}
    ${isUnknown ? html`<option value="${chosen}" selected>${chosen.slice(0, 40)}</option>` : null}
    ${options(field.choices, chosen)}
  </select>`;
  return fieldFrame(field, state, input);
}

export const massUnitChoices: readonly Choice[] = massUnits.map((unit) => ({ value: unit, label: unit }));
export const priceUnitChoices: readonly Choice[] = priceUnits.map((unit) => ({
  value: unit,
  label: unit === 'each' ? 'each' : `per ${unit}`,
}));

export function tickField(field: Field, state: FormState): SafeHtml {
  const ticked = ['1', 'on'].includes(typedValue(state, field.name));
  const problem = state.problems[field.name];
  return html`<div class="field tick ${problem === undefined ? '' : 'has-problem'}">
  <label><input id="${idOf(state, field.name)}" type="checkbox" name="${field.name}" value="1" ${ticked ? html`checked` : null}
    ${field.attributes}${described(field, state)}> <span>${field.label}</span></label>
  ${field.hint === undefined ? null : html`<p class="hint" id="${idOf(state, field.name)}-hint">${field.hint}</p>`}
  ${problem === undefined ? null : html`<p class="problem" id="${idOf(state, field.name)}-problem">${problem}</p>`}
</div>`;
}

export const hiddenField = (name: string, value: string): SafeHtml =>
  html`<input type="hidden" name="${name}" value="${value}">`;

/** The key that makes a form post once. The page's script never touches it. */
export const requestKeyField = (state: FormState): SafeHtml =>
  hiddenField('requestKey', state.typed.requestKey || newRequestKey());

/** All problems in one place above the form, each leading to its field. Takes the focus when the page comes back. */
export function problemSummary(state: FormState): SafeHtml | null {
  const entries = Object.entries(state.problems);
  if (entries.length === 0) return null;
  return html`<div class="problems" role="alert" tabindex="-1" autofocus>
  <p>${entries.length === 1 ? 'One thing to put right. Nothing was saved yet.' : 'Some things to put right. Nothing was saved yet.'}</p>
  <ul>${entries.map(([name, sentence]) =>
    name === '' ? html`<li>${sentence}</li>` : html`<li><a href="#${idOf(state, name)}">${sentence}</a></li>`,
  )}</ul>
</div>`;
}
