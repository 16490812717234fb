/** The network without loads, with chosen resistances and sources: what a fault's current is worked out from. */
import { expect, test } from 'vitest'
import { factorStamped, stampWires } from '../../../server/engine/assembly.ts'
import { type Network, networkOf } from '../../../server/engine/network.ts'
import { solveFactored } from '../../../server/engine/sparse.ts'
import { systemOf, unknownAt, voltsAt } from '../../../server/engine/system.ts'
import { resistanceAt_ohm } from '../../../server/engine/thermal.ts'
import { battery, draws, ohms, wiring } from './wiring.ts'

const network = networkOf(
  wiring({
    parts: { bat: battery(12, 0.1), feed: ohms(0.3), load: draws(5), back: ohms(0.2) },
    joins: ['bat:+ > feed:a', 'feed:b > load:+', 'load:- > back:a', 'back:b > bat:-'],
  }),
)
const terminal = (name: string) => network.terminalNumber.get(name) as number
const elementOf = (component: string) => network.elementsOf.get(component)?.[0] as number

test('12 V behind 0.1 Ω, 0.3 Ω out and 0.2 Ω back: 12 V open, 0.6 Ω seen from the far end, so 20 A into a short there', () => {
  const { open_V, seen_ohm } = seenAtLoad(Float64Array.from(network.elements, (element) => element.ohm))
  expect(open_V).toBeCloseTo(12, 9)
  expect(seen_ohm).toBeCloseTo(0.6, 9)
  expect(open_V / seen_ohm).toBeCloseTo(20, 8)
})

test('the feed at 120 °C, by copper’s 0.00393 /K: 0.1 + 0.3 · 1.393 + 0.2 = 0.7179 Ω', () => {
  const warm = Float64Array.from(network.elements, (element) => element.ohm)
  warm[elementOf('feed')] = resistanceAt_ohm(network, { element: elementOf('feed'), degC: 120 })
  expect(seenAtLoad(warm).seen_ohm).toBeCloseTo(0.7179, 9)
})

/** Volts across the load's place with nothing drawn, and how far they fall for each ampere drawn there. */
function seenAtLoad(resistances: Float64Array): { readonly open_V: number; readonly seen_ohm: number } {
  const system = systemOf(network, { closed: allClosed(network), drawing: new Set() }, [{ element: elementOf('bat') }])
  const source = { element: elementOf('bat'), emf_V: 12, ohm: 0.1, gives_A: 0, mode: 'norton' as const }
  const work = { ohms: resistances, sources: [source], inputs_A: new Map(), diodesOff: new Set<number>() }
  const values = system.pattern.values()
  const right = new Float64Array(system.pattern.size)
  stampWires(system, work, values, right)
  expect(factorStamped(system, values)).toBe(true)
  const drawn = new Float64Array(system.pattern.size)
  drawn[unknownAt(system, terminal('load:+'))] = -1
  drawn[unknownAt(system, terminal('load:-'))] = 1
  const across = (voltages: Float64Array) => voltsAt(system, voltages, terminal('load:+')) - voltsAt(system, voltages, terminal('load:-'))
  return { open_V: across(solveFactored(system.pattern, values, right)), seen_ohm: -across(solveFactored(system.pattern, values, drawn)) }
}

function allClosed(whole: Network): Uint8Array {
  return new Uint8Array(whole.elements.length).fill(1)
}
