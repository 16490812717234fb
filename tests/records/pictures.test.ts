/** What pictures take to be looked into: R22 in short. `tests/soak/photos.ts` is its long form, over http and under a bound of memory. */
import { createHash } from 'node:crypto'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { platform, tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { lookInto } from '../../server/records/pictures.ts'
import { largePhoto } from '../soak/large-photos.ts'

let data = ''
const paths = { baseline: '', progressive: '' }
beforeAll(async () => {
  data = mkdtempSync(join(tmpdir(), 'loombook-pictures-'))
  for (const kind of ['baseline', 'progressive'] as const) {
    paths[kind] = join(data, `${kind}.jpg`)
    writeFileSync(paths[kind], await largePhoto({ n: 1, isProgressive: kind === 'progressive' }))
  }
}, 60_000)
afterAll(() => rmSync(data, { recursive: true, force: true }))

/** Each under a hash of its own, so that none is found made already. */
const look = (path: string, name: string) =>
  lookInto({ data, path, sha256: createHash('sha256').update(name).digest('hex'), type: 'image/jpeg' })

test('R22: twelve of 48 Mpx at once are unpacked one after the other', { timeout: 120_000 }, async () => {
  // Told each time one was given to a thread, which may be at work on it by then or not yet, and each time one has ended.
  const seen = { told: 0, most: 0 }
  const lookAround = () => {
    seen.told += 1
    seen.most = Math.max(seen.most, sharp.counters().process)
  }
  sharp.queue.on('change', lookAround)
  const looked = await Promise.all(Array.from({ length: 12 }, (_, n) => look(paths.baseline, `at once ${n}`)))
  sharp.queue.off('change', lookAround)
  for (const one of looked) expect(one).toEqual({ ok: true, value: { width_px: 8000, height_px: 6000 } })
  expect(seen.told).toBe(2 * 12)
  expect(seen.most).toBeLessThanOrEqual(1)
})

// Unpacked whole it would be 8000 × 6000 × 3 bytes = 144 MB. A progressive one is held as its coefficients: two bytes for each sample,
// and with colours at half the size 1.5 samples a pixel, 144 MB as well; beside them as little as for the other.
// Only Linux counts the most that a process held.
test.skipIf(platform() !== 'linux').each([
  ['baseline', 72],
  ['progressive', 144 + 72],
] as const)('R22: one of 48 Mpx, %s, takes less than %d MB', { timeout: 60_000 }, async (kind, most_MB) => {
  await look(paths[kind], `warm ${kind}`)
  const before_MB = held_MB('VmRSS')
  // proc(5): the most held at once is counted anew from here.
  writeFileSync('/proc/self/clear_refs', '5')
  expect((await look(paths[kind], `measured ${kind}`)).ok).toBe(true)
  expect(held_MB('VmHWM') - before_MB).toBeLessThan(most_MB)
})

function held_MB(what: 'VmRSS' | 'VmHWM'): number {
  return Number(new RegExp(`${what}:\\s+(\\d+)`).exec(readFileSync('/proc/self/status', 'utf8'))?.[1]) / 1000
}
