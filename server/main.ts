import { noteHomeAddress } from './access/acts.ts';
import { HomeNetwork, type HomeNetworkParts, isKeptOff } from './access/home-network.ts';
import { passphraseHash } from './access/queries.ts';
import { buildApp } from './app.ts';
import { removeSecondNames } from './backups/files.ts';
import { watchForRestore } from './backups/handover.ts';
import { Keeper } from './backups/keeper.ts';
import { systemClock } from './clock.ts';
import { lastEntryFile, ledgerFile, readConfig } from './config.ts';
import { openLedger } from './context.ts';
import type { Db } from './db/database.ts';
import { openDb } from './db/open.ts';
import { takeServingLock } from './db/serving.ts';
import { LedgerFileError } from './db/trouble.ts';
import { DemoBeside } from './demo.ts';
import { greeting } from './greeting.ts';
import { clockTrouble } from './home/compute.ts';
import { newestEntryAt } from './home/queries.ts';
import { LastEntry } from './last-entry.ts';
import { settleIfDue } from './layers/settle.ts';
import { setPassphraseOnce, whyNotStarted } from './start.ts';
import { closeOnSignal, endOnFault } from './stop.ts';

/** This computer itself, always; the home network only once there is a passphrase. */
const LOOPBACK = '127.0.0.1';
/** How long the newest entry may be without a note beside the ledger that it is there. */
const NOTE_EVERY_MS = 1000;

const ALREADY_SERVED = 'A Tarebook runs on this ledger already. Open its address in the browser, or stop it first.';

async function main(): Promise<void> {
  const config = readConfig(process.env);
  const ledger = ledgerFile(config);
  const lock = takeServingLock(config.dataFolder);
  if (lock === null) throw new LedgerFileError(ALREADY_SERVED);
  removeSecondNames(ledger);
  const db = openDb(ledger);
  settleIfDue(db);
  const lastEntry = new LastEntry(db, lastEntryFile(ledger));
  await setPassphraseOnce(db, config.passphrase);
  const demo = new DemoBeside();
  const backups = new Keeper({ db, ledger, clock: systemClock, log: (sentence) => console.error(sentence) });
  let network: HomeNetwork | null = null;
  const app = await buildApp({
    db,
    clock: systemClock,
    hosts: config.hosts,
    openDemo: demo.open,
    lastEntry,
    backups,
    homeUrls: () => network?.urls() ?? [],
    refreshNetwork: async () => network?.refresh(),
  });
  app.addHook('onClose', () => demo.close());
  await app.listen({ host: LOOPBACK, port: config.port });
  const address = app.server.address();
  const port = typeof address === 'object' && address !== null ? address.port : config.port;
  network = homeNetwork(db, { server: app.server, port, host: config.host });
  const noting = setInterval(() => lastEntry.note(), NOTE_EVERY_MS);
  const stopWatching = watchForRestore(config.dataFolder, {
    db,
    ledger,
    isBusy: () => backups.isCopying,
    onSwapped(aside) {
      lastEntry.accept();
      backups.forget();
      console.log(`A restored ledger is in place now. The one until now is kept as ${aside}.`);
    },
  });
  closeOnSignal(async () => {
    clearInterval(noting);
    stopWatching();
    await backups.close();
    await network?.close();
    await app.close();
    lastEntry.note();
    db.close();
    lock.release();
  });
  await network.refresh();
  const said = greeting({
    ownUrl: `http://${LOOPBACK}:${port}`,
    homeUrl: network.urls()[0] ?? null,
    hasPassphrase: passphraseHash(db) !== undefined,
    isKeptOff: isKeptOff(config.host),
    isTerminal: process.stdout.isTTY,
    missing: lastEntry.missing,
  });
  console.log(said);
  const behind = clockTrouble(systemClock.now(), newestEntryAt(db));
  if (behind !== null) console.error(behind);
  backups.start();
}

/** The home network, which is answered as long as there is a passphrase. */
const homeNetwork = (db: Db, listening: Pick<HomeNetworkParts, 'server' | 'port' | 'host'>): HomeNetwork =>
  new HomeNetwork({
    ...listening,
    isOpen: () => passphraseHash(db) !== undefined,
    onTrouble: (sentence) => console.error(sentence),
    onAddress(url) {
      const before = noteHomeAddress(openLedger(db, systemClock, 'this computer'), url);
      if (before !== null) console.log(`The address on the home network is now ${url}/ (it was ${before}/).`);
    },
  });

endOnFault();
main().catch((error: unknown) => {
  console.error(`Tarebook could not start: ${whyNotStarted(error)}`);
  process.exit(1);
});
