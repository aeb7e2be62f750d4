import { buildApp } from './app.ts';
import { systemClock } from './clock.ts';
import { ledgerFile, readConfig } from './config.ts';
import { openDb } from './db/open.ts';
import { DemoBeside } from './demo.ts';
import { whyNotStarted } from './start.ts';
import { closeOnSignal } from './stop.ts';

/** Only this computer, until access from the home network is built. */
const HOST = '127.0.0.1';

async function main(): Promise<void> {
  const config = readConfig(process.env);
  const db = openDb(ledgerFile(config));
  const demo = new DemoBeside();
  const app = await buildApp({ db, clock: systemClock, hosts: config.hosts, openDemo: demo.open });
  app.addHook('onClose', () => demo.close());
  await app.listen({ host: HOST, port: config.port });
  const address = app.server.address();
  const port = typeof address === 'object' && address !== null ? address.port : config.port;
  console.log(`Tarebook is ready: open http://${HOST}:${port}/ on this computer. Press Ctrl+C to stop.`);
  closeOnSignal(async () => {
    await app.close();
    db.close();
  });
}

main().catch((error: unknown) => {
  console.error(`Tarebook could not start: ${whyNotStarted(error)}`);
  process.exit(1);
});
