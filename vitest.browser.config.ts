import { defineConfig } from 'vitest/config'

const reports = process.env.LOOMBOOK_REPORTS
const reporters = reports ? ['default', ['json', { outputFile: `${reports}/browser.json` }] as const] : ['default']

export default defineConfig({
  test: {
    reporters: reporters as never,
    include: ['tests/browser/**/*.test.ts'],
    testTimeout: 120_000,
    hookTimeout: 180_000,
    fileParallelism: false,
  },
})
