import type { Container } from '../../server/setup/queries.ts';
import type { Choice } from './form.ts';
import type { Show } from './show.ts';

/** Containers to choose from, each with its tare: "blue tub (2.00 lb)". */
export const containerChoices = (show: Show, containers: readonly Container[]): Choice[] =>
  containers.map(({ id, name, tare_typed, tare_ug }) => ({
    value: String(id),
    label: `${name} (${show.typedWeight(tare_typed, show.settings.unit, tare_ug)})`,
  }));
