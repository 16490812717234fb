import { defineConfig } from 'vitest/config'

const reports = process.env.LOOMBOOK_REPORTS
const reporters = reports ? ['default', ['json', { outputFile: `${reports}/unit.json` }] as const] : ['default']

export default defineConfig({
  test: {
    reporters: reporters as never,
    include: ['tests/**/*.test.ts'],
    exclude: ['tests/browser/**'],
    testTimeout: 30_000,
    hookTimeout: 60_000,
  },
})
