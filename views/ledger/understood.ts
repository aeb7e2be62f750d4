import type { InWeightInput } from '../../server/ledger/acts.ts';
import { netOf } from '../../server/ledger/compute.ts';
import type { Reader } from '../../server/reading.ts';
import type { Container } from '../../server/setup/queries.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';

/**
 * What the tool makes of the figures so far: the net, large, and how a mixed figure was read. Says what is wrong only
 * once there is something to be wrong about.
 */
export function understood(
  show: Show,
  input: InWeightInput | null,
  reader: Reader,
  container: Container | undefined,
): SafeHtml {
  if (reader.raw('gross') === '') {
    const unit = reader.raw('unit') || show.settings.unit;
    return html`<small>in ${unit}${container === undefined ? null : `, in ${container.name}`}</small>`;
  }
  if (input === null) {
    const sentence = reader.problems.gross ?? reader.problems.tare ?? reader.problems.unit;
    return sentence === undefined ? html`` : html`<span class="problem">${sentence}</span>`;
  }
  const net = netOf(input);
  const { unit } = input;
  if (net === null) {
    return html`<span class="problem">The tare, ${show.weight(input.tareUg, unit)}, is not below the reading.</span>`;
  }
  const readAs = show.readAs(input.grossTyped, input.grossUg, unit);
  const echo = readAs === null ? null : html`<small>${readAs}</small><br>`;
  const sum = `${show.weightFigure(input.grossUg, unit)} − ${show.weightFigure(input.tareUg, unit)}`;
  return html`${echo}<span class="sum">${sum}${container === undefined ? null : html` <small>(${container.name})</small>`} </span> <span class="nowrap">= <b class="net">${show.weightFigure(net, unit)}</b> ${unit} net</span>`;
}
