import type { BinOnHand, RecentInWeight } from '../../server/ledger/queries.ts';
import type { Container, Scale } from '../../server/setup/queries.ts';
import {
  type Choice,
  choiceField,
  dayField,
  type FormState,
  massUnitChoices,
  noteField,
  numberField,
  tickField,
} from '../common/form.ts';
import { html, type SafeHtml } from '../html.ts';

export interface WeighInLists {
  bins: BinOnHand[];
  containers: Container[];
  scales: Scale[];
  recent: RecentInWeight[];
  /** The item that is being taken apart; null for material of none. */
  item: { id: number; kind_name: string } | null;
}

const ASK = html`hx-get="/weigh-in/understood" hx-include="closest form" hx-target="#understood"`;
const ASK_WHILE_TYPING = html`${ASK} hx-trigger="input changed delay:150ms"`;
export const ASK_ON_CHANGE = html`${ASK} hx-trigger="change"`;
export const ASK_AT_ONCE = html`hx-get="/weigh-in/understood" hx-include="closest form" hx-trigger="load"`;

/** The reading of the scale, with letters at hand for "3 lb 7 oz". */
export function readingField(state: FormState, isFirst = false): SafeHtml {
  const attributes = html`${ASK_WHILE_TYPING} ${isFirst ? html`autofocus` : null}`;
  return numberField({ name: 'gross', label: 'Reading (gross)', letters: true, attributes }, state);
}

/** What the reading is to be lessened by. Right as a rule, so that Enter passes it over. */
export function containerAndTare(containers: readonly Choice[], state: FormState): SafeHtml {
  const onChange = html`${ASK_ON_CHANGE} data-till-skip`;
  return html`<div class="pair">
    ${choiceField({ name: 'container', label: 'Container', choices: containers, none: 'None', attributes: onChange }, state)}
    ${numberField({ name: 'tare', label: 'or tare', attributes: html`${ASK_WHILE_TYPING} data-till-skip` }, state)}
  </div>`;
}

/** What is right as it stands for most weighings: unit, scale, day, note. */
export function moreFields(lists: WeighInLists, state: FormState): SafeHtml {
  const listed = lists.scales.map(({ id, name }) => ({ value: String(id), label: name }));
  const scales = state.typed.scale === 'usual' ? [{ value: 'usual', label: 'As usual' }, ...listed] : listed;
  return html`<div class="pair">
    ${choiceField({ name: 'unit', label: 'Unit', choices: massUnitChoices, attributes: ASK_ON_CHANGE }, state)}
    ${choiceField({ name: 'scale', label: 'Scale', choices: scales, none: 'Not said' }, state)}
  </div>
  ${dayField({ name: 'occurredOn', label: 'Day' }, state)}
  ${tickField({ name: 'isEstimate', label: 'An estimate, not weighed' }, state)}
  ${noteField({ name: 'note', label: 'Note' }, state)}`;
}
