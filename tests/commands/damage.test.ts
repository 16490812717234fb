/** The short form of `tests/commands/damage.ts`. */
import { expect, test } from 'vitest'
import { covered, damageFiles, damageWals, kinds } from '../running/damage.ts'

test('R6: of 42 damaged databases none serves a wrong row of those that have digests without it being named', async () => {
  const found = await damageFiles({ count: 6 * kinds.length, seed: 7 })
  for (const one of found) expect(one.named === null ? one.wrong.filter((table) => covered.includes(table)) : [], one.kind).toEqual([])
  // Each look finds some: neither is there for show.
  for (const where of ['at the start', 'by the nightly look'])
    expect(
      found.some(({ named }) => named === where),
      where,
    ).toBe(true)
  for (const kind of ['bits', 'zeroed page', 'page of noise', 'lost tail'])
    for (const one of found.filter((two) => two.kind === kind)) expect(one.named === null ? one.wrong : [], kind).toEqual([])
}, 300_000)

test('R6: of 20 damaged -wal files each leads to an earlier commit, whole, and never to anything else', () => {
  const found = damageWals({ count: 20, seed: 7 })
  for (const one of found) expect([one.commitsKept !== null, one.sound], one.kind).toEqual([true, true])
  expect(found.some(({ commitsKept, commits }) => (commitsKept as number) < commits)).toBe(true)
}, 120_000)
