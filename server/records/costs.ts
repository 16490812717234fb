/** What entries cost, by vehicle and year; and beside it what was bought for the shelf. */
import type { Actor } from './contract.ts'
import type { Db } from './database.ts'
import { standingEntry } from './standing.ts'

export type Costs = {
  /** latest first */
  readonly years: readonly string[]
  /** by vehicle, then year, in minor units; a year without a cost said is absent */
  readonly byVehicle: ReadonlyMap<string, ReadonlyMap<string, number>>
  /** never part of the sums: what is fitted from the shelf may be counted in its entry too */
  readonly bought: ReadonlyMap<string, number>
}

export function costsOf(db: Db, actor: Actor): Costs {
  const spent = db.$client
    .prepare(
      `SELECT e.vehicle_id AS vehicle, substr(e.effective_on, 1, 4) AS year, sum(e.cost_minor) AS cost FROM entries e
       WHERE e.household_id = ? AND e.cost_minor IS NOT NULL AND ${standingEntry} GROUP BY 1, 2`,
    )
    .all(actor.householdId) as { vehicle: string; year: string; cost: number }[]
  const paid = db.$client
    .prepare(
      `SELECT substr(bought_on, 1, 4) AS year, sum(price_minor) AS cost FROM purchases
       WHERE household_id = ? AND price_minor IS NOT NULL GROUP BY 1`,
    )
    .all(actor.householdId) as { year: string; cost: number }[]
  const byVehicle = new Map<string, Map<string, number>>()
  for (const { vehicle, year, cost } of spent) byVehicle.set(vehicle, (byVehicle.get(vehicle) ?? new Map<string, number>()).set(year, cost))
  const years = [...new Set([...spent, ...paid].map((row) => row.year))].sort().reverse()
  return { years, byVehicle, bought: new Map(paid.map((row) => [row.year, row.cost])) }
}
