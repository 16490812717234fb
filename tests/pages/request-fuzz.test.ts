import { expect, test } from 'vitest'
import { fuzzRequests } from './request-fuzz.ts'

test('a thousand requests at random, to every address and by anybody: no fault of ours, and no record changed without session and token', async () => {
  const seen = await fuzzRequests({ count: 1000, seed: 20261126 })
  expect(seen.faults).toEqual([])
  expect(seen.cases).toBe(1000)
  // Neither all refused nor all let through: then nothing would have been tried.
  expect(seen.met).toBeGreaterThan(seen.patterns * 0.9)
  expect(seen.wrote).toBeGreaterThan(5)
  for (const status of ['200', '303', '401', '403', '404', '422']) expect(seen.byStatus[status] ?? 0, status).toBeGreaterThan(5)
}, 300_000)
