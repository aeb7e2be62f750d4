import { registerHooks } from 'node:module';

// Opens a ledger as the server does, with the binding that counts: `upgrade-child.ts FILE`.

const counted = new URL('./counted-binding.ts', import.meta.url).href;
registerHooks({
  resolve: (specifier, context, next) =>
    specifier === 'better-sqlite3' && context.parentURL?.includes('/server/')
      ? { url: counted, shortCircuit: true }
      : next(specifier, context),
});

const { openDb } = await import('../../server/db/open.ts');
openDb(process.argv[2] ?? '').close();
