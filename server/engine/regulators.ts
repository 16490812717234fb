/** What is not a law of one element but watches the solution and moves: converters, diodes, sensing regulators. */
import { forwardOf_V } from './assembly.ts'
import { type Element, partOf } from './network.ts'
import type { SourceState } from './sources-at.ts'
import { loadVolts, type System, unknownAt, voltsAcross, voltsAt } from './system.ts'

/** What they move. */
export type Settings = {
  readonly sources: readonly SourceState[]
  /** A that a converter takes in, by its input's element */
  readonly inputs_A: Map<number, number>
  /** the diodes that block */
  readonly diodesOff: Set<number>
}

/** A solution with the settings as they are: V by unknown, A by element. */
export type Trial = { readonly voltages: Float64Array; readonly currents: Float64Array }

/**
 * A converter past its limit gives its limit from then on. Its input takes I_in = V_out·I_out/(η·V_in); η is 1 where not stated.
 * True where one moved.
 */
export function moveConverters(system: System, settings: Settings, trial: Trial): boolean {
  const { network } = system
  let moved = false
  for (const source of settings.sources) {
    const part = partOf(network, source.component)
    if (part.kind !== 'converter') continue
    const limit = part.ratings.output_A
    const gives_A = -(trial.currents[source.element] as number)
    if (source.mode === 'norton' && typeof limit === 'number' && gives_A > limit * (1 + 1e-9)) {
      source.mode = 'current'
      source.gives_A = limit
      moved = true
      continue
    }
    const out_V = voltsAcross(system, trial.voltages, network.elements[source.element] as Element)
    const input = (network.elementsOf.get(source.component) ?? []).find((at) => (network.elements[at] as Element).kind === 'load') as number
    const in_V = voltsAcross(system, trial.voltages, network.elements[input] as Element)
    const efficiency = typeof part.ratings.efficiency === 'number' ? part.ratings.efficiency : 1
    const wanted_A = in_V > 0 ? Math.max(0, (out_V * gives_A) / (efficiency * in_V)) : 0
    const before_A = settings.inputs_A.get(input) ?? 0
    if (Math.abs(wanted_A - before_A) > 1e-9 * Math.max(1, wanted_A)) moved = true
    settings.inputs_A.set(input, wanted_A)
  }
  return moved
}

/** A diode that would carry backwards blocks; one with more than its forward voltage across it conducts. True where one moved. */
export function moveDiodes(system: System, settings: Settings, trial: Trial): boolean {
  const { network, closed } = system
  const { diodesOff } = settings
  let moved = false
  network.elements.forEach((element, at) => {
    if (element.kind !== 'diode' || !closed[at] || unknownAt(system, element.from) === -2) return
    const off = diodesOff.has(at)
      ? voltsAcross(system, trial.voltages, element) <= forwardOf_V(network, element)
      : (trial.currents[at] as number) < -1e-9
    if (off === diodesOff.has(at)) return
    moved = true
    if (off) diodesOff.add(at)
    else diodesOff.delete(at)
  })
  return moved
}

/** A regulator that senses elsewhere raises its own terminals until the sensed point stands at the set-point. True where one moved. */
export function moveSense(system: System, settings: Settings, trial: Trial): boolean {
  const { network } = system
  let moved = false
  for (const source of settings.sources) {
    const sense = network.terminalNumber.get(`${source.component}:sense`)
    if (sense === undefined || source.mode !== 'norton' || unknownAt(system, sense) === -2) continue
    const { to } = network.elements[source.element] as Element
    const short_V = source.setPoint_V - (voltsAt(system, trial.voltages, sense) - voltsAt(system, trial.voltages, to))
    if (Math.abs(short_V) < 1e-9) continue
    source.emf_V += short_V
    moved = true
  }
  return moved
}

/** A source at its limit, and loads that together draw more: nothing holds the voltage up, and it falls below zero. */
export function isStarved(system: System, settings: Settings, trial: Trial): boolean {
  const { network, loads } = system
  if (!settings.sources.some((source) => source.mode === 'current' && partOf(network, source.component).kind !== 'battery')) return false
  return loads.some((load) => loadVolts(system, trial.voltages, load) < -1e-6)
}
