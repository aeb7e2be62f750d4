import type { Ledger } from '../../context.ts';
import { type Load, loadsOf } from '../../manifests/queries.ts';
import { quoteAsOf } from '../../prices/queries.ts';
import { standingTicketsOf } from '../../tickets/queries.ts';
import { type MassUg, type MassUnit, toWeight } from '../../units/mass.ts';
import { readUnit } from '../../units/read-weight.ts';
import { loadFigure, weightAsTyped, weightFigure } from '../compute.ts';
import { NO_QUOTE } from '../imports/loads.ts';
import { type LoadedManifest, loadedManifests } from '../queries.ts';
import { exportFile } from './export.ts';

/** The unit that a weighing was typed in, where it is not the one of its line. */
const typedUnit = (typed: string, unit: MassUnit): MassUnit =>
  readUnit(/[a-z#][a-z .]*$/i.exec(typed)?.[0] ?? '') ?? unit;

function netOf(load: Load, asked: MassUnit | null): { net: string; unit: MassUnit } {
  const mass = load.mass_ug as MassUg;
  if (asked !== null) return { net: weightFigure(toWeight(mass, 'g'), asked), unit: asked };
  const asTyped = weightAsTyped(load.net_typed, load.unit, mass);
  const { figure, unit } = loadFigure(asTyped, mass, typedUnit(load.gross_typed, load.unit));
  return { net: figure, unit };
}

/**
 * The price that was frozen with the load. Where there was none although the ledger has a quote of that day by now,
 * this is said, because an empty price stands for the quote of that day.
 */
function quotedOf({ db }: Ledger, manifest: LoadedManifest, load: Load) {
  if (load.price !== null && load.per !== null) return { quoted_price: load.price, quoted_per: load.per };
  const since = quoteAsOf(db, manifest.yard_id, load.grade_id, manifest.loaded_on);
  return { quoted_price: since === undefined ? '' : NO_QUOTE, quoted_per: '' };
}

/**
 * The loads of a manifest that are not back in their bins. When all are back and a ticket stands for the manifest all
 * the same, they are given as loaded, or the ticket would have no manifest to belong to.
 */
function exportedLoads({ db }: Ledger, manifest: LoadedManifest): Load[] {
  const all = loadsOf(db, manifest.id);
  const out = all.filter((load) => load.load_return_id === null);
  return out.length === 0 && standingTicketsOf(db, manifest.id).length > 0 ? all : out;
}

export const loads = exportFile({
  name: 'loads',
  sentence: 'What was loaded, with the price as quoted then. Drafts, and loads that came back, are left out.',
  columns: ['yard', 'manifest', 'loaded_on', 'load', 'bin', 'net', 'unit', 'quoted_price', 'quoted_per'],
  texts: ['yard', 'manifest', 'load', 'bin'],
  *rows(ledger, { unit }) {
    for (const manifest of loadedManifests(ledger.db)) {
      for (const load of exportedLoads(ledger, manifest)) {
        yield {
          yard: manifest.yard_name,
          manifest: manifest.number,
          loaded_on: manifest.loaded_on,
          load: load.label,
          bin: load.bin_code,
          ...netOf(load, unit),
          ...quotedOf(ledger, manifest, load),
        };
      }
    }
  },
});
