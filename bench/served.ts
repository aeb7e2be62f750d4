import { buildApp } from '../server/app.ts';
import { fixedClock } from '../server/clock.ts';
import { openDb } from '../server/db/open.ts';
import { benchToday } from './fill.ts';
import { alwaysChanged } from './pages.ts';

/**
 * The server around a ledger, on the day on which the years of the bench end. Prints its port. Run as a process of its
 * own with the ledger's file and `changed`, to make every page anew as after a weigh-in, or `unchanged`.
 */
const [, , file = '', pages] = process.argv;
const db = openDb(file);
const app = await buildApp({ db: pages === 'changed' ? alwaysChanged(db) : db, clock: fixedClock(benchToday) });
console.log(new URL(await app.listen({ host: '127.0.0.1', port: 0 })).port);
