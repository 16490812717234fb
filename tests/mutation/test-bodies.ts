/** Collects the tests of a file without starting a runner, and runs them until the first that fails. */

type Body = { readonly name: string; readonly run: () => unknown }
type Cases = readonly unknown[]
type Call = (...given: readonly unknown[]) => unknown

/** `describe` and `test` as test files use them. A hook is refused: such a file is left to the real runner. */
export function collector(): { readonly api: Readonly<Record<string, unknown>>; readonly bodies: readonly Body[] } {
  const bodies: Body[] = []
  const above: string[] = []
  const nothing = () => {}
  const suite = (name: unknown, ...rest: readonly unknown[]) => {
    above.push(String(name))
    functionOf(rest)()
    above.pop()
  }
  const test = (name: unknown, ...rest: readonly unknown[]) => {
    const run = functionOf(rest)
    bodies.push({ name: [...above, String(name)].join(' > '), run: () => run() })
  }
  const each = (declare: Call) => (cases: Cases) => (name: unknown, run: Call) => {
    cases.forEach((given, n) => void declare(`${name} [${n}]`, () => (Array.isArray(given) ? run(...given) : run(given))))
  }
  const forEach = (declare: Call) => (cases: Cases) => (name: unknown, run: Call) => {
    cases.forEach((given, n) => void declare(`${name} [${n}]`, () => run(given)))
  }
  const full = (declare: Call) =>
    Object.assign((...given: readonly unknown[]) => declare(...given), {
      each: each(declare),
      for: forEach(declare),
      skip: nothing,
      todo: nothing,
    })
  const refuse = () => {
    throw new Error('hooks are left to the real runner')
  }
  return {
    api: {
      describe: full(suite),
      test: full(test),
      it: full(test),
      beforeAll: refuse,
      beforeEach: refuse,
      afterAll: refuse,
      afterEach: refuse,
    },
    bodies,
  }
}

/** The name of the first test that fails, or null. */
export async function firstFailing(bodies: readonly Body[]): Promise<string | null> {
  for (const body of bodies) {
    try {
      await body.run()
    } catch {
      return body.name
    }
  }
  return null
}

function functionOf(given: readonly unknown[]): Call {
  const found = given.find((one) => typeof one === 'function')
  if (!found) throw new Error('a test without a body')
  return found as Call
}
