/** What people ask of one component: how much it carries, for whom, what is left and what gives way first. */
import { carried_A } from './carried.ts'
import { circuitOf, type SolvedCircuit } from './circuit-of.ts'
import { limitOf, type Tried } from './headroom.ts'
import type { Element } from './network.ts'
import type { BranchFacts, Report } from './report.ts'
import { checkCircuit, findingsOf } from './rules/check.ts'
import type { VehicleDocument } from './vehicle.ts'

/** Facts of one component's branch. Shares by one adjoint solve; headroom by asking all the rules again with a trial load. */
export function branchFacts(
  doc: VehicleDocument,
  component: string,
  circuit: SolvedCircuit = circuitOf(doc),
  report: Report = checkCircuit(circuit),
): BranchFacts {
  const at = worstCondition(circuit, component)
  const solved = circuit.conditions[at]
  const loads = circuit.loadsBehind(component)
  const source = circuit.sourcesOf(component)[0]
  const first = loads[0]
  const feed = first === undefined ? [] : circuit.feedOf(first)
  const back = first === undefined ? [] : circuit.returnOf(first)
  const isLoad = ['load', 'pump'].includes(circuit.kindOf(component))
  return {
    component,
    condition: solved?.condition.key ?? '',
    current_A: carried_A(circuit.conditions[at], { circuit, component }),
    shares: sharesOf(circuit, at, component),
    headroom: headroomOf({ doc, component, circuit, report }),
    feedPath: isLoad
      ? circuit.feedOf(component)
      : source === undefined
        ? []
        : feed.includes(component)
          ? feed.slice(0, feed.indexOf(component) + 1)
          : [],
    returnPath: isLoad ? circuit.returnOf(component) : back.includes(component) ? back.slice(back.indexOf(component)) : [],
    loads,
  }
}

/** Whose current it is, in one condition; `load` null is what sources exchange. The shares sum to the component's current. */
export function sharesOf(circuit: SolvedCircuit, condition: number, component: string): BranchFacts['shares'] {
  const point = circuit.points[condition]
  const current = carried_A(circuit.conditions[condition], { circuit, component })
  if (!point || current === null) return []
  const { network } = circuit
  const wires = (network.elementsOf.get(component) ?? []).filter(
    (at) => !['load', 'coil', 'source'].includes((network.elements[at] as Element).kind),
  )
  const drawing = new Set(
    wires.length > 0
      ? wires.flatMap((at) => circuit.paths.loadsBehind(at))
      : (network.oneNode.get(component) ?? []).flatMap((n) =>
          (network.joinsAt.get(n) ?? []).flatMap((at) => circuit.paths.loadsBehind(at)),
        ),
  )
  const sums = new Map<string, { current_A: number; unknown: boolean }>()
  const sensitivities = wires.map((at) => point.shareOf(at))
  for (const load of drawing) {
    if (!point.activeLoads.has(load)) continue
    const key = (network.elements[load] as Element).component as string
    const draws = point.current_A[load] as number
    // Where the component is merged into a node its loads pass it whole.
    const share =
      sensitivities.length > 0 && sensitivities.every((one) => one !== null)
        ? sensitivities.reduce((sum, one) => sum + (one?.(load) ?? 0), 0)
        : 1
    const before = sums.get(key)
    sums.set(key, {
      current_A: (before?.current_A ?? 0) + share * draws,
      unknown: circuit.conditions[condition]?.unknownLoads(component).includes(key) === true,
    })
  }
  const shares = [...sums].map(([load, one]) => ({ load, ...one })).sort((a, b) => Math.abs(b.current_A) - Math.abs(a.current_A))
  const between = current - shares.reduce((sum, one) => sum + one.current_A, 0)
  return Math.abs(between) > 1e-6 && sensitivities.length > 0 ? [...shares, { load: null, current_A: between, unknown: false }] : shares
}

/** Amperes that can be hung on the component before a rule anywhere first says over. */
function headroomOf(given: { doc: VehicleDocument; component: string; circuit: SolvedCircuit; report: Report }): BranchFacts['headroom'] {
  const { doc, component, circuit, report } = given
  const none = { current_A: null, rule: null, limitedBy: null, condition: null }
  const terminal = trialTerminal(circuit, component)
  if (terminal === null) return { ...none, because: ['Nothing can be hung on this one.'] }
  const tryLoad = trialOf({ doc, circuit, terminal, report })
  const unknowns = [...new Set(circuit.conditions.flatMap((solved) => solved.unknownLoads(component)))].map(
    (load) => `the current of ${circuit.component(load).name}`,
  )
  const start = tryLoad(0.001)
  const atOnce = start.over
  if (atOnce) return { current_A: 0, rule: atOnce.rule, limitedBy: atOnce.component, condition: atOnce.condition, because: unknowns }
  const limit = limitOf(start, tryLoad)
  if (!limit) return { ...none, because: [...unknowns, 'no rule that can be judged here limits it'] }
  const { over, low_A } = limit
  return {
    current_A: Math.floor(low_A * 10) / 10,
    rule: over.rule,
    limitedBy: over.component,
    condition: over.condition,
    because: unknowns,
  }
}

/** A load of so many amperes hung on a terminal, and all the rules asked again. */
export function trialOf(given: {
  readonly doc: VehicleDocument
  readonly circuit: SolvedCircuit
  readonly terminal: string
  readonly report: Report
}): (current_A: number) => Tried {
  const { doc, circuit, terminal, report } = given
  const standing = new Map(
    report.findings.filter((finding) => finding.verdict === 'over').map((finding) => [`${finding.rule} ${finding.component}`, finding]),
  )
  return (current_A) => {
    const trial = circuitOf(withTrial(doc, { terminal, current_A, circuit }))
    const findings = findingsOf(trial).filter((finding) => finding.component !== 'trial-load')
    const over = findings.find((finding) => {
      if (finding.verdict !== 'over') return false
      const was = standing.get(`${finding.rule} ${finding.component}`)
      return !was || (finding.used ?? 0) > (was.used ?? 0) * (1 + 1e-6) + 1e-9
    })
    return { over: over ?? null, findings, solved: trial.conditions.filter((condition) => condition.solved).length }
  }
}

function withTrial(doc: VehicleDocument, given: { terminal: string; current_A: number; circuit: SolvedCircuit }): VehicleDocument {
  const { terminal, current_A, circuit } = given
  const chassis = circuit.network.chassis === null ? null : (circuit.network.terminals[circuit.network.chassis] as string)
  return {
    ...doc,
    parts: [
      ...doc.parts,
      {
        key: 'trial-part',
        kind: 'load',
        name: 'trial load',
        ratings: { behaviour: 'current', current_A, rated_V: doc.vehicle.systemVoltage_V },
        evidence: { behaviour: 'datasheet', current_A: 'datasheet', rated_V: 'datasheet' },
      },
    ],
    components: [...doc.components, { key: 'trial-load', name: 'trial load', part: 'trial-part' }],
    joins: [...doc.joins, { from: terminal, to: 'trial-load:+' }, ...(chassis === null ? [] : [{ from: 'trial-load:-', to: chassis }])],
    ...(doc.conditions
      ? {
          conditions: doc.conditions.map((condition) =>
            condition.on && condition.engine !== 'cranking' ? { ...condition, on: [...condition.on, 'trial-load'] } : condition,
          ),
        }
      : {}),
  }
}

/** Where one would join the next thing: the component's outgoing terminal. */
export function trialTerminal(circuit: SolvedCircuit, component: string): string | null {
  const kind = circuit.kindOf(component)
  const outgoing: Readonly<Record<string, string>> = {
    battery: '+',
    alternator: '+',
    charger: 'out',
    converter: 'out',
    fuse: 'out',
    breaker: 'out',
    relay: '87',
    switch: 'out',
    module: 'out1',
    diode: 'k',
    connector: '1b',
    load: '+',
    pump: '+',
  }
  if (kind === 'conductor') {
    if (!circuit.isFeed(component)) return null
    const [a, b] = (circuit.network.elementsOf.get(component) ?? [])
      .map((at) => circuit.network.elements[at] as Element)
      .flatMap((element) => [element.from, element.to]) as [number, number]
    const solved = circuit.conditions[worstCondition(circuit, component)]
    return circuit.network.terminals[(solved?.current_A(component) ?? 0) >= 0 ? b : a] ?? null
  }
  const own = circuit.network.oneNode.get(component)?.[0]
  if (own !== undefined)
    return circuit.network.joinsAt.has(own) && circuit.loadsBehind(component).length > 0 ? (circuit.network.terminals[own] as string) : null
  return outgoing[kind] === undefined ? null : `${component}:${outgoing[kind]}`
}

function worstCondition(circuit: SolvedCircuit, component: string): number {
  let best = 0
  let most = -1
  circuit.conditions.forEach((_, n) => {
    const current = Math.abs(carried_A(circuit.conditions[n], { circuit, component }) ?? -1)
    if (current > most) {
      most = current
      best = n
    }
  })
  return best
}
