/** A short way to write a small circuit for the solver's tests: each component with its kind, ratings and what else it carries. */
import { parseDocument } from '../../../server/document/parse.ts'
import { circuitOf } from '../../../server/engine/circuit-of.ts'
import type { ComponentReport, Report } from '../../../server/engine/report.ts'
import { checkCircuit } from '../../../server/engine/rules/check.ts'
import type { Component, Condition, Ratings, VehicleDocument } from '../../../server/engine/vehicle.ts'

export type Parts = Readonly<Record<string, readonly [kind: string, ratings: Ratings, more?: Partial<Component>]>>

/** A conductor of a stated resistance: outside any zone it stays at 20 °C, so that the figure holds. */
export const ohms = (resistance20_ohmPerM: number, more: Partial<Component> = {}): Parts[string] => [
  'conductor',
  { resistance20_ohmPerM },
  { length_m: 1, ...more },
]
export const battery = (openCircuit_V: number, internalResistance_ohm: number): Parts[string] => [
  'battery',
  { nominal_V: 12, openCircuit_V, internalResistance_ohm },
]
export const draws = (current_A: number, more: Ratings = {}): Parts[string] => [
  'load',
  { behaviour: 'current', current_A, rated_V: 12, ...more },
]
/** A resistance written as the load that has it: rated_V / current_A. */
export const resists = (ohm: number): Parts[string] => ['load', { behaviour: 'resistive', rated_V: 12, current_A: 12 / ohm }]

/** Joins are written `from > to`. Every component gets a part of its own; each document is passed by the format's own parser. */
export function wiring(given: {
  readonly parts: Parts
  readonly joins: readonly string[]
  readonly conditions?: readonly Condition[]
  readonly ambient_degC?: number
}): VehicleDocument {
  const document: VehicleDocument = {
    format: 'loombook-vehicle/1',
    vehicle: { name: 'bench', systemVoltage_V: 12 },
    ...(given.ambient_degC === undefined ? {} : { zones: [{ key: 'z', name: 'zone', ambient_degC: given.ambient_degC }] }),
    parts: Object.entries(given.parts).map(([key, [kind, ratings]]) => ({ key, kind, name: key, ratings })),
    components: Object.entries(given.parts).map(([key, [, , more]]) => ({ key, name: key, part: key, ...more })),
    joins: given.joins.map((join) => {
      const [from, to] = join.split(' > ') as [string, string]
      return { from, to }
    }),
    ...(given.conditions ? { conditions: given.conditions } : {}),
  }
  const parsed = parseDocument(document)
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults))
  return document
}

export const running: Condition = { key: 'r', name: 'running', engine: 'running' }
export const off: Condition = { key: 'o', name: 'off', engine: 'off' }

/** The operating point of one condition as the report shows it. */
export function pointOf(document: VehicleDocument, condition = 0) {
  const circuit = circuitOf(document)
  const report: Report = checkCircuit(circuit)
  const shown = report.conditions[condition] as Report['conditions'][number]
  return {
    circuit,
    report,
    shown,
    volts: (terminal: string) => shown.terminals_V[terminal] as number,
    amperes: (component: string) => shown.components[component]?.current_A as number,
    component: (component: string) => shown.components[component] as ComponentReport,
  }
}
