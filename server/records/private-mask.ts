/** What is left out of words that leave the house, on a build page or on paper: everything private that is recorded, but for what was let through. */
import type { Db } from './database.ts'
import { type Mask, maskOf } from './masks.ts'
import type { Private } from './shares.ts'

/** What is private in this household is read here to be left out of words, and goes nowhere else. */
export function privateMask(
  db: Db,
  given: { readonly householdId: string; readonly vehicleId: string; readonly lets: (field: Private) => boolean },
): Mask {
  const { householdId, lets } = given
  const texts = (sql: string, ...of: readonly string[]) =>
    wordsIn(
      db.$client
        .prepare(sql)
        .pluck()
        .all(...of),
    )
  const { described, leftTo } = saidOf(db, given)
  return maskOf({
    numbers: [...(lets('vin') ? [] : described('vin')), ...(lets('plate') ? [] : described('plate'))],
    names: lets('names') ? [] : [...texts('SELECT name FROM people WHERE household_id = ?', householdId), ...leftTo],
    suppliers: lets('suppliers') ? [] : texts('SELECT DISTINCT supplier FROM purchases WHERE household_id = ?', householdId),
    places: lets('places')
      ? []
      : texts(
          'SELECT place FROM stock_counts WHERE household_id = ? UNION SELECT place FROM leftovers WHERE household_id = ?',
          householdId,
          householdId,
        ),
    addresses: lets('addresses') ? null : described('keptAt').flatMap((one) => [one, ...one.split(/[,\n]/)]),
    prices: !lets('prices'),
  })
}

/**
 * What entries say of the vehicle itself and of who took it over. Also what was once recorded and then corrected: an old plate is as private
 * as the new one. Read in one walk over its changes, which may be many.
 */
function saidOf(db: Db, given: { readonly householdId: string; readonly vehicleId: string }) {
  const rows = db.$client
    .prepare(
      `SELECT kind, payload FROM changes WHERE vehicle_id = ? AND +household_id = ? AND kind IN ('described', 'left') ORDER BY rowid`,
    )
    .all(given.vehicleId, given.householdId) as { kind: 'described' | 'left'; payload: string }[]
  const said = rows.map(({ kind, payload }) => ({ kind, payload: JSON.parse(payload) as Said }))
  return {
    described: (name: keyof Vehicle) => wordsIn(said.map(({ kind, payload }) => (kind === 'described' ? payload.vehicle?.[name] : null))),
    leftTo: wordsIn(said.map(({ kind, payload }) => (kind === 'left' ? payload.to : null))),
  }
}
type Vehicle = { readonly vin?: unknown; readonly plate?: unknown; readonly keptAt?: unknown }
type Said = { readonly vehicle?: Vehicle; readonly to?: unknown }

/** Each once. */
function wordsIn(found: readonly unknown[]): string[] {
  return [...new Set(found.filter((one): one is string => typeof one === 'string' && one.trim() !== ''))]
}
