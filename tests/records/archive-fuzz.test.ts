import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { expect, test } from 'vitest'
import { fuzzImports } from './archive-fuzz.ts'

test('two hundred archives that are not right do no harm: nothing half taken, nothing left, nothing written elsewhere (R24)', async () => {
  const folder = mkdtempSync(join(tmpdir(), 'fuzz-'))
  try {
    const seen = await fuzzImports(folder, { count: 200, seed: 24 })
    expect(seen.faults).toEqual([])
    expect(seen.cases).toBe(200)
    // Neither all refused nor all taken in: then nothing would have been tried.
    expect(seen.refused).toBeGreaterThan(50)
    expect(seen.taken).toBeGreaterThan(5)
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}, 120_000)
