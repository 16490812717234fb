/** `npm run fuzz:requests -- --count N [--seed S]`: N requests at random to every address; ends with 1 where any did harm. */
import { fuzzRequests } from '../pages/request-fuzz.ts'
import { countAndSeed } from './count-and-seed.ts'

const [count, seed] = countAndSeed('fuzz:requests', 100_000)
const say = (line: string) => process.stdout.write(`${line}\n`)
const began = performance.now()
/** A book of its own for each piece: what was written by right does not slow down all that follows. */
const PIECE = 5000
let [done, wrote] = [0, 0]
const byStatus: Record<string, number> = {}
const faults: string[] = []
for (let piece = 0; done < count; piece++) {
  const seen = await fuzzRequests({ count: Math.min(PIECE, count - done), seed: seed + piece })
  done += seen.cases
  wrote += seen.wrote
  for (const [status, times] of Object.entries(seen.byStatus)) byStatus[status] = (byStatus[status] ?? 0) + times
  for (const fault of seen.faults) process.stderr.write(`${fault}\n`)
  faults.push(...seen.faults)
  const rate = Math.round(done / ((performance.now() - began) / 1000))
  say(`${done} of ${count}: ${JSON.stringify(byStatus)}, ${wrote} wrote, ${faults.length} faults, ${rate} a second`)
}
process.exitCode = faults.length > 0 ? 1 : 0
