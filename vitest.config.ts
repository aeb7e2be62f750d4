import { defineConfig } from 'vitest/config';

export default defineConfig({
  test: {
    include: ['tests/**/*.test.ts'],
    // Each test file opens ledgers and servers of its own; two cores carry two files at once.
    maxWorkers: 2,
    testTimeout: 30_000,
    hookTimeout: 120_000,
  },
});
