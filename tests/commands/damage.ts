/** `node --import tsx tests/commands/damage.ts` damages 300 databases and 100 -wal files and fails where a wrong row is served unnamed. `--databases`, `--wals`, `--seed` change it. */
import { covered, damageFiles, damageWals, kinds } from '../running/damage.ts'

const number = (name: string, otherwise: number) => {
  const at = process.argv.indexOf(`--${name}`)
  return at < 0 ? otherwise : Number(process.argv[at + 1])
}
const seed = number('seed', 1)
const files = await damageFiles({ count: number('databases', 300), seed })
for (const kind of kinds) {
  const those = files.filter((one) => one.kind === kind)
  const count = (named: string | null) => those.filter((one) => one.named === named).length
  const wrong = those.filter((one) => one.named === null && one.wrong.length > 0)
  process.stdout.write(
    `${kind}: ${those.length}; named at the start ${count('at the start')}, by the nightly look ${count('by the nightly look')}, harmless ${count(null) - wrong.length}, wrong and unnamed ${wrong.length}${wrong.length > 0 ? ` (${wrong.map((one) => one.wrong.join(' ')).join(', ')})` : ''}\n`,
  )
}
const wals = damageWals({ count: number('wals', 100), seed })
const lost = wals.filter((one) => one.commitsKept === null || !one.sound)
process.stdout.write(`-wal: ${wals.length}; an earlier commit ${wals.length - lost.length}, anything else ${lost.length}\n`)
const uncovered = files.filter((one) => one.wrong.some((table) => covered.includes(table)))
process.exitCode = uncovered.length > 0 || lost.length > 0 ? 1 : 0
