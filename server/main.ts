import { noteHomeAddress } from './access/acts.ts';
import { HomeNetwork, isKeptOff } from './access/home-network.ts';
import { passphraseHash } from './access/queries.ts';
import { buildApp } from './app.ts';
import { removeSecondNames } from './backups/files.ts';
import { watchForRestore } from './backups/handover.ts';
import { Keeper } from './backups/keeper.ts';
import { systemClock } from './clock.ts';
import { ledgerFile, readConfig } from './config.ts';
import { openLedger } from './context.ts';
import { openDb } from './db/open.ts';
import { takeServingLock } from './db/serving.ts';
import { LedgerFileError } from './db/trouble.ts';
import { DemoBeside } from './demo.ts';
import { greeting } from './greeting.ts';
import { setPassphraseOnce, whyNotStarted } from './start.ts';
import { closeOnSignal } from './stop.ts';

/** This computer itself, always; the home network only once there is a passphrase. */
const LOOPBACK = '127.0.0.1';

const ALREADY_SERVED =
  'A Tarebook runs on this ledger already. Open its address in the browser, or stop it first. TAREBOOK_DATA names another ledger’s folder.';

async function main(): Promise<void> {
  const config = readConfig(process.env);
  const ledger = ledgerFile(config);
  const lock = takeServingLock(config.dataFolder);
  if (lock === null) throw new LedgerFileError(ALREADY_SERVED);
  removeSecondNames(ledger);
  const db = openDb(ledger);
  await setPassphraseOnce(db, config.passphrase);
  const demo = new DemoBeside();
  const backups = new Keeper({ db, ledger, clock: systemClock, log: (sentence) => console.error(sentence) });
  let network: HomeNetwork | null = null;
  const app = await buildApp({
    db,
    clock: systemClock,
    hosts: config.hosts,
    openDemo: demo.open,
    backups,
    homeUrls: () => network?.urls() ?? [],
    refreshNetwork: async () => network?.refresh(),
  });
  app.addHook('onClose', () => demo.close());
  await app.listen({ host: LOOPBACK, port: config.port });
  const address = app.server.address();
  const port = typeof address === 'object' && address !== null ? address.port : config.port;
  network = new HomeNetwork({
    server: app.server,
    port,
    host: config.host,
    isOpen: () => passphraseHash(db) !== undefined,
    onTrouble: (sentence) => console.error(sentence),
    onAddress(url) {
      const before = noteHomeAddress(openLedger(db, systemClock, 'this computer'), url);
      if (before !== null) console.log(`The address on the home network is now ${url}/ (it was ${before}/).`);
    },
  });
  const stopWatching = watchForRestore(config.dataFolder, {
    db,
    ledger,
    isBusy: () => backups.isCopying,
    onSwapped(aside) {
      backups.forget();
      console.log(`A restored ledger is in place now. The one until now is kept as ${aside}.`);
    },
  });
  closeOnSignal(async () => {
    stopWatching();
    await backups.close();
    await network?.close();
    await app.close();
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
  });
  console.log(said);
  backups.start();
}

main().catch((error: unknown) => {
  console.error(`Tarebook could not start: ${whyNotStarted(error)}`);
  process.exit(1);
});
