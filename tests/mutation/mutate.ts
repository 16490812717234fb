/** `npm run mutate [-- RULE] [-- --quick]`: breaks every rule and check.ts on purpose, one spot at a time, and counts what the tests catch. */
import { fork } from 'node:child_process'
import { readdirSync } from 'node:fs'
import { join, relative } from 'node:path'
import { equivalents } from './equivalent.ts'
import { type Mutant, mutantsOf, type Unit, unitsOf } from './mutants.ts'
import { copyOf } from './real-runner.ts'
import type { Answer, Asked } from './worker.ts'

const AT_ONCE = 2
/** One mutant's quick tests take a second or two; a busy machine takes longer. */
const LONGEST_ms = 180_000
const HANGS = 'it never ends'
/** Those that judge rules, quickest first, then what is tried on survivors only. */
const QUICK = ['tests/engine/rules', 'tests/engine', 'tests/published', 'tests/networks']
const SLOW = ['tests/engine/properties']

type Outcome = { readonly mutant: Mutant; readonly caughtBy: string | null }

const root = join(import.meta.dirname, '../..')
process.exitCode = await run(process.argv.slice(2))

async function run(args: readonly string[]): Promise<number> {
  const units = unitsOf(
    root,
    args.find((one) => !one.startsWith('-')),
  )
  if (units.length === 0) {
    process.stderr.write('There is no rule of that name. Usage: mutate [RULE] [--quick] [--real] [--list]\n')
    return 2
  }
  const mutants = mutantsOf(root, units)
  if (args.includes('--list')) {
    for (const mutant of mutants) process.stdout.write(`${placed(mutant)}\n`)
    return 0
  }
  const outcomes = args.includes('--real') ? await byRealRunner(mutants, QUICK) : await byQuickTests(mutants, args.includes('--quick'))
  return report(units, outcomes)
}

/** Quick tests in memory first; what these leave, and nobody excuses, is tried by the real runner on the slow ones. */
async function byQuickTests(mutants: readonly Mutant[], isQuick: boolean): Promise<readonly Outcome[]> {
  const tests = QUICK.flatMap(testsIn).filter((file, n, all) => all.indexOf(file) === n && !SLOW.some((slow) => file.startsWith(slow)))
  const waiting = [...mutants]
  const outcomes = new Map<Mutant, string | null>()
  const unable = new Set<string>()
  const work = async () => {
    let worker = await startWorker(tests)
    for (const test of tests) if (!worker.ready.includes(test)) unable.add(test)
    for (let mutant = waiting.shift(); mutant; mutant = waiting.shift()) {
      const caughtBy = await worker.tries(mutant)
      outcomes.set(mutant, caughtBy)
      if (caughtBy === HANGS) worker = await startWorker(tests)
    }
    worker.end()
  }
  await Promise.all(Array.from({ length: AT_ONCE }, work))
  const survivors = mutants.filter((mutant) => outcomes.get(mutant) === null && !isExcused(mutant))
  process.stderr.write(`${survivors.length} of ${mutants.length} are left after the quick tests\n`)
  if (isQuick) survivors.length = 0
  for (const { mutant, caughtBy } of await byRealRunner(survivors, [...unable, ...SLOW])) outcomes.set(mutant, caughtBy)
  return mutants.map((mutant) => ({ mutant, caughtBy: outcomes.get(mutant) ?? null }))
}

async function byRealRunner(mutants: readonly Mutant[], tests: readonly string[]): Promise<readonly Outcome[]> {
  const waiting = [...mutants]
  const outcomes: Outcome[] = []
  const work = async () => {
    if (waiting.length === 0) return
    const copy = copyOf(root)
    try {
      if (await copy.failsOn(null, tests)) throw new Error('the tests fail with nothing broken')
      for (let mutant = waiting.shift(); mutant; mutant = waiting.shift())
        outcomes.push({ mutant, caughtBy: (await copy.failsOn(mutant, tests)) ? 'the real runner' : null })
    } finally {
      copy.remove()
    }
  }
  await Promise.all(Array.from({ length: AT_ONCE }, work))
  return outcomes
}

type Worker = { readonly ready: readonly string[]; readonly tries: (mutant: Mutant) => Promise<string | null>; readonly end: () => void }

async function startWorker(tests: readonly string[]): Promise<Worker> {
  const child = fork(join(import.meta.dirname, 'worker.ts'), {
    execArgv: ['--import', 'tsx'],
    stdio: ['ignore', 'ignore', 'inherit', 'ipc'],
  })
  const ask = (asked: Asked): Promise<Answer> =>
    new Promise((resolve) => {
      const timer = setTimeout(() => {
        child.kill('SIGKILL')
        resolve({ caughtBy: HANGS })
      }, LONGEST_ms)
      child.once('message', (answer: Answer) => {
        clearTimeout(timer)
        resolve(answer)
      })
      child.send(asked)
    })
  const first = await ask({ root, tests })
  if (!('ready' in first)) throw new Error('fault' in first ? first.fault : 'the tests do not end with nothing broken')
  return {
    ready: first.ready,
    tries: async (mutant) => {
      const answer = await ask({ mutant })
      if (!('caughtBy' in answer)) throw new Error(`${placed(mutant)}: ${'fault' in answer ? answer.fault : 'no answer'}`)
      return answer.caughtBy
    },
    end: () => child.disconnect(),
  }
}

function report(units: readonly Unit[], outcomes: readonly Outcome[]): number {
  const excused = new Set<Mutant>()
  const untrue: string[] = []
  for (const entry of equivalents.filter((one) => units.some((unit) => unit.name === one.unit))) {
    const meant = outcomes.filter(({ mutant }) => mutant.unit === entry.unit && mutant.what === entry.what)
    if (meant.length !== 1) untrue.push(`equivalent.ts: ${entry.unit}, ${entry.what}: fits ${meant.length} mutants`)
    for (const { mutant, caughtBy } of meant) {
      if (caughtBy === null) excused.add(mutant)
      else untrue.push(`equivalent.ts: ${entry.unit}, ${entry.what}: caught by ${caughtBy}`)
    }
  }
  const counted = outcomes.filter(({ mutant }) => !excused.has(mutant))
  const survivors = counted.filter((one) => one.caughtBy === null)
  for (const { mutant } of survivors) say(`survives${mutant.isFigure ? '' : ' (no figure)'}: ${placed(mutant)}`)
  for (const line of untrue) say(line)
  for (const unit of units) {
    const own = counted.filter(({ mutant }) => mutant.unit === unit.name)
    say(`${unit.name} caught ${own.filter((one) => one.caughtBy !== null).length} of ${own.length}`)
  }
  const badly = new Set(survivors.filter(({ mutant }) => mutant.isFigure).map(({ mutant }) => mutant.unit))
  // A rule with no figure of its own is judged in check.ts.
  const isWhole = (unit: Unit) => !badly.has(counted.some(({ mutant }) => mutant.unit === unit.name) ? unit.name : 'check')
  const rules = units.filter((unit) => unit.isRule)
  say(
    `rules of which every value, limit and threshold mutant was caught: ${rules.filter(isWhole).length} of ${rules.length}; ` +
      `mutants caught: ${counted.length - survivors.length} of ${counted.length}; equivalent, not counted: ${excused.size}`,
  )
  return badly.size > 0 || untrue.length > 0 ? 1 : 0
}

function isExcused(mutant: Mutant): boolean {
  return equivalents.some((entry) => entry.unit === mutant.unit && entry.what === mutant.what)
}

function testsIn(folder: string): readonly string[] {
  return readdirSync(join(root, folder), { recursive: true, withFileTypes: true })
    .filter((one) => one.isFile() && one.name.endsWith('.test.ts'))
    .map((one) => relative(root, join(one.parentPath, one.name)))
    .sort()
}

function placed(mutant: Mutant): string {
  return `${mutant.file}:${mutant.line} ${mutant.what}`
}

function say(line: string): void {
  process.stdout.write(`${line}\n`)
}
