import { build, type Db } from '../db/database.ts';
import type { Day } from '../units/day.ts';

/** The day on which a request with this key was accepted, or undefined when it never was. */
export const dayOfRequest = (db: Db, key: string): Day | undefined =>
  db.maybe(build.selectFrom('request').select('recorded_at').where('key', '=', key))?.recorded_at.slice(0, 10) as
    | Day
    | undefined;

/** The manifests of all yards with one number, to say whose it is when the yard asked about has none. */
export const manifestsNumbered = (db: Db, number: string): { yard_name: string }[] =>
  db.many(
    build
      .selectFrom('manifest')
      .innerJoin('yard', 'yard.id', 'manifest.yard_id')
      .select('yard.name as yard_name')
      .where('manifest.number', '=', number)
      .orderBy('manifest.id'),
  );

export interface LoadedManifest {
  id: number;
  number: string;
  yard_id: number;
  yard_name: string;
  loaded_on: Day;
}

/** Every manifest that was ever loaded, in the order of loading. */
export const loadedManifests = (db: Db): LoadedManifest[] =>
  db.many(
    build
      .selectFrom('manifest')
      .innerJoin('yard', 'yard.id', 'manifest.yard_id')
      .select(['manifest.id', 'manifest.number', 'manifest.yard_id', 'yard.name as yard_name'])
      .select((eb) => eb.ref('manifest.loaded_on').$notNull().as('loaded_on'))
      .where('manifest.loaded_on', 'is not', null)
      .orderBy('manifest.loaded_on')
      .orderBy('manifest.id'),
  );
