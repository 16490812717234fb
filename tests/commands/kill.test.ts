/** The short form of `tests/commands/kill.ts`. */
import { expect, test } from 'vitest'
import { bundled, removeBundled } from '../running/bundle.ts'
import { killRounds } from '../running/kill-rounds.ts'

test('R1: killed 25 times while it is written to, it has all it answered for, and nothing in part', async () => {
  const program = await bundled('server/main.ts')
  try {
    const found = await killRounds({ rounds: 25, program: [program] })
    expect(found.faults).toEqual([])
    expect(found.struck).toBeGreaterThanOrEqual(1)
    expect(Object.values(found.answered).reduce((sum, count) => sum + count, 0)).toBeGreaterThan(25)
  } finally {
    removeBundled(program)
  }
}, 600_000)
