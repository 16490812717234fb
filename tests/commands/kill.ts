/** `node --import tsx tests/commands/kill.ts --rounds 500` kills the server while it writes, that often, and fails if anything it answered for is gone or half there. */
import { bundled, removeBundled } from '../running/bundle.ts'
import { killRounds } from '../running/kill-rounds.ts'

const LEAST_struck = 20
const at = process.argv.indexOf('--rounds')
const rounds = at < 0 ? 500 : Number(process.argv[at + 1])
if (!Number.isInteger(rounds) || rounds < 1) {
  process.stderr.write('--rounds is a whole number from 1.\n')
  process.exit(2)
}
const program = await bundled('server/main.ts')
try {
  const found = await killRounds({ rounds, program: [program], tell: (line) => process.stdout.write(`${line}\n`) })
  const sorted = [...found.restarts_ms].sort((a, b) => a - b)
  const answered = Object.entries(found.answered).map(([kind, count]) => `${count} ${kind}`)
  process.stdout.write(
    [
      `${found.rounds} rounds; answered for: ${answered.join(', ')}.`,
      `${found.struck} kills came while a write was sent and unanswered (${found.unanswered} writes; ${found.keptAnyway} entries of those were there all the same).`,
      `Started again in ${Math.round(sorted[Math.floor(sorted.length / 2)] ?? 0)} ms (half of them), ${Math.round(sorted.at(-1) ?? 0)} ms (the slowest).`,
      ...found.faults.slice(0, 50),
      '',
    ].join('\n'),
  )
  const least = Math.min(LEAST_struck, Math.ceil(rounds / 25))
  if (found.struck < least)
    process.stderr.write(`Only ${found.struck} kills met an unanswered write; at least ${least} are needed to say anything.\n`)
  process.exitCode = found.faults.length > 0 || found.struck < least ? 1 : 0
} finally {
  removeBundled(program)
}
