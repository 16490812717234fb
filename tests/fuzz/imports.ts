/** `npm run fuzz:imports -- --count N [--seed S]`: N archives that are not right are taken in; ends with 1 where any did harm. */
import { mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { fuzzImports } from '../records/archive-fuzz.ts'
import { countAndSeed } from './count-and-seed.ts'

const [count, seed] = countAndSeed('fuzz:imports', 10_000)
const folder = mkdtempSync(join(tmpdir(), 'fuzz-imports-'))
const began = performance.now()
let [done, taken, refused] = [0, 0, 0]
const faults: string[] = []
try {
  for (let part = 0; done < count; part++) {
    const seen = await fuzzImports(folder, { count: Math.min(5000, count - done), seed: seed + part * 1000 })
    done += seen.cases
    taken += seen.taken
    refused += seen.refused
    faults.push(...seen.faults)
    const rate = Math.round(done / ((performance.now() - began) / 1000))
    process.stdout.write(`${done} of ${count}: ${taken} taken in, ${refused} refused, ${faults.length} faults, ${rate} a second\n`)
  }
} finally {
  rmSync(folder, { recursive: true, force: true })
}
for (const fault of faults.slice(0, 20)) process.stderr.write(`${fault}\n`)
process.exitCode = faults.length > 0 ? 1 : 0
