/** `npm run fuzz:requests -- --count N [--seed S]`: N requests at random to every address; ends with 1 where any did harm. */
import { fuzzRequests } from '../pages/request-fuzz.ts'

const option = (name: string, otherwise: number) => {
  const at = process.argv.indexOf(name)
  return at < 0 ? otherwise : Number(process.argv[at + 1])
}
const [count, seed] = [option('--count', 100_000), option('--seed', 1)]
if (![count, seed].every(Number.isSafeInteger) || count < 1) {
  process.stderr.write('Usage: npm run fuzz:requests -- --count N [--seed S]\n')
  process.exit(2)
}
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
