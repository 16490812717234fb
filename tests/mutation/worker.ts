/** A process of its own that tries one mutant after another on the quick tests; the one that asks ends it when it hangs. */
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import * as vitest from 'vitest'
import { type Changed, freshModules } from './fresh-modules.ts'
import { type Mutant, mutated } from './mutants.ts'
import { collector, firstFailing } from './test-bodies.ts'

export type Asked = { readonly root: string; readonly tests: readonly string[] } | { readonly mutant: Mutant }
export type Answer =
  /** the tests that pass here with nothing broken: only these may judge */
  | { readonly ready: readonly string[] }
  /** the test that failed, or null */
  | { readonly caughtBy: string | null }
  | { readonly fault: string }

const state: { root: string; tests: readonly string[] } = { root: '', tests: [] }

process.on('message', (asked: Asked) => {
  answer(asked).then(
    (said) => process.send?.(said),
    (error: unknown) => process.send?.({ fault: error instanceof Error ? (error.stack ?? error.message) : String(error) } satisfies Answer),
  )
})

async function answer(asked: Asked): Promise<Answer> {
  if ('mutant' in asked) return { caughtBy: await tryMutant(asked.mutant) }
  const ready: string[] = []
  state.root = asked.root
  for (const test of asked.tests) if ((await failureOf(test, undefined)) === null) ready.push(test)
  state.tests = ready
  return { ready }
}

async function tryMutant(mutant: Mutant): Promise<string | null> {
  const file = join(state.root, mutant.file)
  const text = mutated(readFileSync(file, 'utf8'), mutant)
  const own = state.tests.filter((test) => test.endsWith(`/${mutant.unit}.test.ts`))
  for (const test of [...own, ...state.tests.filter((one) => !own.includes(one))]) {
    const failure = await failureOf(test, { file, text })
    if (failure === null) continue
    // What caught one will likely catch the next.
    state.tests = [test, ...state.tests.filter((one) => one !== test)]
    return failure
  }
  return null
}

/** Each file of tests with modules of its own, as the real runner does. */
async function failureOf(test: string, changed: Changed | undefined): Promise<string | null> {
  const { api, bodies } = collector()
  const load = freshModules(state.root, { vitest: { ...vitest, ...api } }, changed)
  try {
    load(join(state.root, test))
  } catch (error) {
    if (error instanceof SyntaxError || (error instanceof Error && error.name === 'Unreadable')) throw error
    return `${test}: does not load`
  }
  const failure = await firstFailing(bodies)
  return failure === null ? null : `${test}: ${failure}`
}
