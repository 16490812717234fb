/** One rule's finding on one component, with the figures that it put into its formula. */
import { circuitOf } from '../../../server/engine/circuit-of.ts'
import type { Finding } from '../../../server/engine/report.ts'
import { findingsOf } from '../../../server/engine/rules/check.ts'
import { figuresBehind } from '../../../server/engine/rules/explain.ts'
import type { VehicleDocument } from '../../../server/engine/vehicle.ts'

export type Judged = Finding & {
  /** by name, with the unit where there is one */
  readonly figures: Readonly<Record<string, number | string | null>>
  /** the figure of that name as the explanation shows it; not there: undefined */
  readonly figure: (name: string) => number | string | null | undefined
  /** the same, which has to be a number */
  readonly number: (name: string) => number
  readonly names: readonly string[]
  readonly units: readonly string[]
}

/** Undefined where the rule has nothing to judge. */
export function judged(document: VehicleDocument, rule: string, component: string): Judged | undefined {
  const circuit = circuitOf(document)
  const finding = findingsOf(circuit).find((one) => one.rule === rule && one.component === component)
  if (!finding) return undefined
  const figures = figuresBehind({ circuit, finding })
  const figure = (name: string) => figures.find((one) => one.name === name)?.value
  return {
    ...finding,
    figures: Object.fromEntries(figures.map((one) => [one.unit === '' ? one.name : `${one.name}, ${one.unit}`, one.value])),
    figure,
    number: (name) => {
      const value = figure(name)
      if (typeof value !== 'number') throw new Error(`${name}: ${value} is no number`)
      return value
    },
    names: figures.map((one) => one.name),
    units: figures.map((one) => one.unit),
  }
}
