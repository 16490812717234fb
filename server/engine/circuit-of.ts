/** A vehicle document solved in each of its conditions, ready for the rules to ask. */
import type { Circuit } from './circuit.ts'
import { conditionState, conditionsOf } from './conditions.ts'
import { type LoadLaw, lawOf } from './load-law.ts'
import { type Element, loadEnds, type Network, networkOf } from './network.ts'
import type { OperatingPoint } from './operating-point.ts'
import { pathsOf } from './paths.ts'
import { solve } from './solve.ts'
import { solvedCondition } from './solved-condition.ts'
import type { VehicleDocument } from './vehicle.ts'
import { type Wiring, wiringOf } from './wiring.ts'

/** `points` are the operating points beside `conditions`, by the same number. */
export type SolvedCircuit = Circuit & Wiring & { readonly points: readonly OperatingPoint[] }

/** The solved circuit of a document in each of its conditions. `conductorTemperature_degC` pins every conductor (no self-heating). */
export function circuitOf(doc: VehicleDocument, options: { readonly conductorTemperature_degC?: number | undefined } = {}): SolvedCircuit {
  const network = networkOf(doc)
  const paths = pathsOf(network)
  const wiring = wiringOf(network, paths)
  const laws = lawsOf(network, wiring)
  const { conditions, made } = conditionsOf(network)
  const solutions = conditions.map((condition) => {
    const state = conditionState({ network, condition, loadsBehind: paths.loadsBehind })
    const { closed, drawing } = state
    const solution = solve(network, { condition, closed, drawing, laws, pinned_degC: options.conductorTemperature_degC })
    const idle = idleLoads(network, { point: solution, drawing })
    return { condition, drawing, point: { ...solution, faults: [...state.faults, ...solution.faults, ...idle] } }
  })
  return {
    ...wiring,
    doc,
    conditionsAreMade: made,
    conditions: solutions.map((one) => solvedCondition({ wiring, ...one, laws })),
    points: solutions.map((one) => one.point),
  }
}

function lawsOf(network: Network, wiring: Wiring): ReadonlyMap<number, LoadLaw> {
  const laws = new Map<number, LoadLaw>()
  network.elements.forEach((element, at) => {
    if (element.kind === 'coil') laws.set(at, { behaviour: 'resistive', value: element.ohm, half_V: 0, known: true })
    else if (element.kind === 'load' && element.component !== null)
      laws.set(at, lawOf(wiring.part(element.component), wiring.nominal_V(element.component)))
  })
  return laws
}

/** Loads that are on with both ends at one potential, as between two changeover relays that both work: that they draw nothing is no finding. */
function idleLoads(network: Network, given: { readonly point: OperatingPoint; readonly drawing: ReadonlySet<number> }): readonly string[] {
  const { point, drawing } = given
  if (!point.solved) return []
  const found: string[] = []
  for (const at of drawing) {
    const element = network.elements[at] as Element
    const [from, to] = loadEnds(network, element)
    // Unfed ones are NaN.
    if (element.kind === 'load' && Math.abs((point.voltage_V[from] as number) - (point.voltage_V[to] as number)) < 1e-6)
      found.push(
        `${network.components.get(element.component as string)?.name ?? element.component} is on and stands between two points of one potential: it draws nothing.`,
      )
  }
  return found
}
