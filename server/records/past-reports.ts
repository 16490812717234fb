/** Documents and reports of past days, those asked for lately: a page as of a day, and two days compared, are looked at more than once. */
import { checkVehicle } from '../engine/rules/check.ts'
import type { Actor } from './contract.ts'
import type { Db } from './database.ts'
import { documentOf } from './document-of.ts'
import type { Report, VehicleDocument } from './engine-types.ts'
import { Lately } from './lately.ts'
import { digestOfParts, partsById } from './part-rows.ts'
import { type State, stateOn } from './state.ts'

type Past = { readonly state: State; readonly digest: string; readonly document: VehicleDocument; readonly report: Report }

const kept = new WeakMap<Db, Lately<Past>>()
/** Of all that are kept, by `weight_kB`. */
export const mostPast_kB = 4000

/** Judged anew unless it was made from this very state, and no part of it has been revised since. */
export function pastReport(
  db: Db,
  actor: Actor,
  vehicleId: string,
  on: string,
): { readonly document: VehicleDocument; readonly report: Report } {
  const state = stateOn(db, actor, vehicleId, on)
  const parts = partsById(db, actor)
  const digest = digestOfParts(parts, [...new Set([...state.components.values()].map((component) => component.part))])
  const mine = keptPast(db)
  const key = `${actor.householdId} ${vehicleId} ${on}`
  const known = mine.get(key)
  if (known?.state === state && known.digest === digest) return known
  const document = documentOf(state, parts, on)
  const past = { state, digest, document, report: checkVehicle(document) }
  mine.set(key, past, weight_kB(past))
  return past
}

export function keptPast(db: Db): Lately<Past> {
  const mine = kept.get(db) ?? new Lately<Past>(mostPast_kB)
  kept.set(db, mine)
  return mine
}

/** What it takes in memory, counted and not weighed: a finding some 0.6 kB, a component judged under a condition 0.2, what is fitted and joined 0.15. */
function weight_kB({ state, report }: Past): number {
  const judged = report.conditions.reduce((sum, { components }) => sum + Object.keys(components).length, 0)
  return Math.ceil(4 + 0.6 * report.findings.length + 0.2 * judged + 0.15 * (state.components.size + state.joins.size))
}
