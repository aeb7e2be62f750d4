import { readConfig } from '../config.ts';
import { startDemo } from '../demo.ts';
import { whyNotStarted } from '../start.ts';
import { closeOnSignal } from '../stop.ts';

const USUAL_PORT = '4871';

/** `npm run demo`: serves a throw-away ledger filled with the demo until it is stopped. */
async function main(): Promise<void> {
  const { port } = readConfig({ ...process.env, TAREBOOK_PORT: process.env.TAREBOOK_PORT || USUAL_PORT });
  const demo = await startDemo(port);
  console.log(`The demo ledger is ready: open ${demo.url} on this computer. Press Ctrl+C to stop.`);
  closeOnSignal(() => demo.close());
}

main().catch((error: unknown) => {
  console.error(`The demo could not start: ${whyNotStarted(error)}`);
  process.exit(1);
});
