import { describe, expect, test } from 'vitest'
import type { Finding, Verdict } from '../../../server/engine/report.ts'
import { fixedClock } from '../../../server/records/clock.ts'
import { openDatabase } from '../../../server/records/database.ts'
import { demoVehicles, loadDemo } from '../../../server/records/demo/index.ts'
import { reportOn } from '../../../server/records/projection.ts'
import { household, value } from '../book.ts'
import { findings, type JudgedVehicle } from './findings.ts'

const TODAY = '2026-11-25'
const found = findingsByVehicle()

test('every demonstration vehicle is judged, and no other', () => {
  expect(Object.keys(findings)).toEqual(demoVehicles.map((vehicle) => vehicle.name))
})

describe.each(Object.entries(findings))('%s', (name, judged) => {
  const actual = found.get(name) ?? []

  test('has the findings that are listed, each of the verdict listed, and no other', () => {
    expect(actual.map(({ rule, component, verdict }) => `${verdict} ${rule} ${component}`).sort()).toEqual(listed(judged).sort())
  })

  test('has so many of each verdict', () => {
    const counts: Record<Verdict, number> = { over: 0, tight: 0, unknown: 0, clear: 0 }
    for (const { verdict } of actual) counts[verdict]++
    expect(counts).toEqual(judged.counts)
  })

  test.each(judged.notClear)('$verdict: $rule of $component by hand', ({ rule, component, value: byHand, limit }) => {
    const finding = actual.find((one) => one.rule === rule && one.component === component)
    expect(finding, 'not found').toBeDefined()
    expectNear(finding?.value ?? null, byHand)
    if (byHand !== undefined) expectNear(finding?.limit ?? null, limit)
  })

  test.each(judged.clear)('clear: the nearest to its limit of $rule by hand', ({ rule, nearest }) => {
    const clear = actual.filter((one) => one.rule === rule && one.verdict === 'clear')
    const most = Math.max(...clear.map((one) => one.used ?? -1))
    if (!nearest) return expect(most).toBe(-1)
    const [component, used] = nearest
    const its = clear.find((one) => one.component === component)?.used ?? null
    expectNear(its, used)
    expect(its, 'another is nearer').toBeCloseTo(most, 6)
  })

  test('every judgement is a sentence', () => {
    for (const { rule, why } of [...judged.notClear, ...judged.clear]) expect(why, rule).toMatch(/^[A-Z].{20,}[.?]$/)
  })
})

/** "verdict rule component" of all that is listed. */
function listed(judged: JudgedVehicle): string[] {
  return [
    ...judged.notClear.map(({ rule, component, verdict }) => `${verdict} ${rule} ${component}`),
    ...judged.clear.flatMap(({ rule, components }) =>
      components
        .trim()
        .split(/\s+/)
        .map((component) => `clear ${rule} ${component}`),
    ),
  ]
}

/** Within 2 %: by hand conductors are taken at a round temperature and loads of constant power at a round voltage. */
function expectNear(actual: number | null, byHand: number | undefined): void {
  if (byHand === undefined) {
    expect(actual).toBeNull()
    return
  }
  expect(actual).not.toBeNull()
  expect(Math.abs((actual as number) - byHand), `${actual} against ${byHand} by hand`).toBeLessThanOrEqual(0.02 * Math.abs(byHand) + 1e-9)
}

function findingsByVehicle(): ReadonlyMap<string, readonly Finding[]> {
  const db = openDatabase(':memory:')
  const clock = fixedClock(`${TODAY}T12:00:00Z`)
  const actor = household(db, clock, 'Robin')
  const { vehicleIds } = value(loadDemo(db, clock, actor))
  return new Map(demoVehicles.map(({ name }, at) => [name, reportOn(db, actor, vehicleIds[at] as string).report.findings]))
}
