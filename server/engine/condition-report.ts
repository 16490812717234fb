/** What the report shows of each condition: volts by terminal, and amperes, drop and temperature by component. */
import type { SolvedCondition } from './circuit.ts'
import type { SolvedCircuit } from './circuit-of.ts'
import { splitTerminal } from './network.ts'
import type { ComponentReport, ConditionReport } from './report.ts'

export function conditionReports(circuit: SolvedCircuit): readonly ConditionReport[] {
  const { network } = circuit
  const isShown = (terminal: string, n: number) =>
    network.joinsAt.has(n) || (network.elementsOf.get(splitTerminal(terminal).component)?.length ?? 0) > 0
  const terminals = network.terminals.filter(isShown).sort()
  const components = [...network.components.keys()].filter((key) => (network.elementsOf.get(key)?.length ?? 0) > 0)
  return circuit.conditions.map((solved) => {
    const terminals_V: Record<string, number | null> = {}
    for (const terminal of terminals) terminals_V[terminal] = solved.voltage_V(terminal)
    const shown: Record<string, ComponentReport> = {}
    for (const key of components) shown[key] = componentReport(circuit, solved, key)
    const { condition, faults, unfed } = solved
    return { key: condition.key, name: condition.name, solved: solved.solved, faults, unfed, terminals_V, components: shown }
  })
}

function componentReport(circuit: SolvedCircuit, solved: SolvedCondition, key: string): ComponentReport {
  const atLeast = solved.unknownLoads(key).length > 0
  return {
    current_A: solved.current_A(key),
    drop_V: solved.drop_V(key),
    temperature_degC: solved.temperature_degC(key),
    atLeast,
    atMost_A: atLeast ? mostThrough_A(circuit, key) : null,
  }
}

/** The smallest fuse that all its current must pass, whichever source gives it: an upper bound; shown, never judged. */
function mostThrough_A(circuit: SolvedCircuit, component: string): number | null {
  const { network, paths } = circuit
  const [at, ...beside] = circuit.carriersOf(component)
  if (at === undefined || beside.length > 0) return null
  const bySource = circuit.sourcesOf(component).map((source) => paths.devicesBetween({ source, element: at, alone: true }))
  let least: number | null = null
  for (const device of bySource[0] ?? []) {
    if (!bySource.every((devices) => devices.includes(device))) continue
    const rated_A = circuit.rating(network.elements[device]?.component as string, 'rated_A')?.value
    if (rated_A !== undefined && (least === null || rated_A < least)) least = rated_A
  }
  return least
}
