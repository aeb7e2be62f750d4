import { defineConfig } from 'vitest/config';

/** `npm run test:faults`: the trials of tests/faults/ in full, one after the other. `npm test` runs a few rounds of each. */
export default defineConfig({
  test: {
    include: ['tests/faults/**/*.test.ts'],
    env: { TAREBOOK_TRIALS: 'all' },
    // Each of them kills, fills or measures something; beside another one the figures would say nothing.
    maxWorkers: 1,
    testTimeout: 1_800_000,
    hookTimeout: 300_000,
  },
});
