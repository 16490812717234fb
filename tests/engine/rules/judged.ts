/** One rule's finding on one component, and the figures behind it by their names. */
import { circuitOf } from '../../../server/engine/circuit-of.ts'
import type { Finding } from '../../../server/engine/report.ts'
import { findingsOf } from '../../../server/engine/rules/check.ts'
import { figuresBehind } from '../../../server/engine/rules/explain.ts'
import type { VehicleDocument } from '../../../server/engine/vehicle.ts'

export type Judged = Finding & { readonly figures: Readonly<Record<string, number | string | null>> }

export function judged(document: VehicleDocument, rule: string, component: string): Judged | undefined {
  const circuit = circuitOf(document)
  const finding = findingsOf(circuit).find((one) => one.rule === rule && one.component === component)
  if (!finding) return undefined
  const figures = figuresBehind({ circuit, finding }).map((one) => [one.unit === '' ? one.name : `${one.name}, ${one.unit}`, one.value])
  return { ...finding, figures: Object.fromEntries(figures) }
}
